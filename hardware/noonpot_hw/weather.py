"""Weather out of a seed: passing clouds, gusts, the warmth of the day.

A sky is two slow numbers: how much of the clear beam gets through, and how much of the light that
clouds take out of the beam still arrives, scattered.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NamedTuple

from noonpot.core.sun import SunSky

# Cumulus crosses the sun in some minutes, its edge in some seconds; a front needs minutes to change
# the sky, thin cloud thickens over tens of minutes, gusts last minutes (chosen, no source).
CLOUD_S = 300.0
EDGE_S = 40.0
FRONT_S = 240.0
DRIFT_S = 1800.0
GUST_S = 180.0
IN_CLOUD = 0.05
GUSTINESS = 0.35
# Half the difference between the warmest hour, about three after noon, and the coldest [K].
SWING_K = 4.0
WARMEST_H = 15.0


class Sky(NamedTuple):
    """A kind of sky.

    ``beam`` is the share of the clear beam that gets through where no cloud passes, ``drift`` how
    far it wanders; ``cover`` the part of the time in which a cloud stands before the sun; ``glow``
    the share of what the beam lost that arrives scattered, ``glow_drift`` how far that wanders.
    """

    beam: float
    drift: float
    cover: float
    glow: float
    glow_drift: float


# Clear-sky index above 0.9, 0.5 to 0.9 or changing, below 0.5 (common practice).
SKIES = {
    "clear": Sky(0.98, 0.01, 0.0, 0.5, 0.0),
    "thin-cloud": Sky(0.60, 0.12, 0.0, 0.5, 0.05),
    "broken": Sky(0.96, 0.02, 0.45, 0.4, 0.05),
    "overcast": Sky(0.0, 0.0, 0.0, 0.22, 0.05),
}


@dataclass(frozen=True, slots=True)
class Change:
    """A sky that begins at a time of the UTC day [s after midnight]."""

    from_s: float
    sky: str


def sky_at(plan: Sequence[Change], when: datetime) -> str:
    """The sky planned for a time. Before the first change of a day the last one of the day before
    still holds.

    >>> plan = (Change(6 * 3600, "clear"), Change(18 * 3600, "overcast"))
    >>> sky_at(plan, datetime(2026, 6, 3, 2, 0, tzinfo=UTC))
    'overcast'
    """
    utc = when.astimezone(UTC)
    now_s = utc.hour * 3600 + utc.minute * 60 + utc.second
    return max(plan, key=lambda change: (change.from_s <= now_s, change.from_s)).sky


class Light(NamedTuple):
    """Light under this weather [W/m²]: direct normal, diffuse and global horizontal."""

    dni: float
    dhi: float
    ghi: float


class Weather:
    """The weather over one garden. Equal seeds and steps give equal weather."""

    def __init__(
        self,
        seed: int,
        plan: Sequence[Change],
        *,
        ambient_c: float,
        wind_ms: float,
        longitude: float,
    ) -> None:
        self._random = random.Random(seed)
        self._plan = tuple(plan)
        self._mean_ambient_c = ambient_c
        self._mean_wind_ms = wind_ms
        self._longitude = longitude
        self._drift = self._random.gauss(0, 1)
        self._glow_drift = self._random.gauss(0, 1)
        self._gust = self._random.gauss(0, 1)
        self._clouded = False
        self._beam = self._glow = self._shade = 0.0
        self._begun = False
        self.ambient_c = ambient_c
        self.wind_ms = wind_ms

    def step(self, when: datetime, seconds: float) -> None:
        """Let the weather go on for some seconds, until ``when``."""
        sky = SKIES[sky_at(self._plan, when)]
        self._drift = self._wander(self._drift, seconds / DRIFT_S)
        self._glow_drift = self._wander(self._glow_drift, seconds / DRIFT_S)
        self._gust = self._wander(self._gust, seconds / GUST_S)
        self._pass_clouds(sky.cover, seconds)

        front = 1 - math.exp(-seconds / FRONT_S) if self._begun else 1.0
        edge = 1 - math.exp(-seconds / EDGE_S) if self._begun else 1.0
        self._beam += front * (sky.beam + sky.drift * self._drift - self._beam)
        self._glow += front * (sky.glow + sky.glow_drift * self._glow_drift - self._glow)
        self._shade += edge * (self._clouded - self._shade)
        self._begun = True

        hour = when.astimezone(UTC).timestamp() / 3600 + self._longitude / 15
        warmth = math.cos(2 * math.pi * (hour - WARMEST_H) / 24)
        self.ambient_c = self._mean_ambient_c + SWING_K * warmth
        self.wind_ms = self._mean_wind_ms * max(0.0, 1 + GUSTINESS * self._gust)

    def light(self, clear: SunSky) -> Light:
        """What this weather leaves of a clear sky."""
        through = min(1.0, max(0.0, self._beam)) * (1 - (1 - IN_CLOUD) * self._shade)
        glow = min(0.6, max(0.08, self._glow))
        dni = through * clear.dni
        dhi = through * clear.dhi + (1 - through) * glow * clear.ghi
        height = math.sin(math.radians(max(0.0, clear.elevation_deg)))
        return Light(dni, dhi, dni * height + dhi)

    def _wander(self, value: float, share: float) -> float:
        """A walk that tends back to 0 with variance 1 (Ornstein-Uhlenbeck, exact for any step)."""
        kept = math.exp(-share)
        return kept * value + math.sqrt(1 - kept**2) * self._random.gauss(0, 1)

    def _pass_clouds(self, cover: float, seconds: float) -> None:
        chance = self._random.random()
        gap_s = CLOUD_S * (1 - cover) / cover if cover else math.inf
        if self._clouded:
            self._clouded = cover > 0 and chance > 1 - math.exp(-seconds / CLOUD_S)
        else:
            self._clouded = chance < 1 - math.exp(-seconds / gap_s)
