"""What one watched cook can prove about its cooker: readings, loads, notes, and light across the
beam, measured or taken from a clear sky.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from noonpot.core import light
from noonpot.core.cook import EventKind
from noonpot.core.cooklog import DISTURBED_S, CookLog, Loaded
from noonpot.core.crosslight import across_beam
from noonpot.core.estimation import BLOCK_S, CLEAR_INDEX
from noonpot.core.foods import Food
from noonpot.core.learning import fill
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable, unix_s

Floats = NDArray[np.float64]

CLEAR_FROM = 0.95
"""A sky that the pot itself tells to be this clear counts as clear (our choice)."""
LONGEST_GAP_S = 660.0
"""Ten minutes between two readings is the most that S580.1, 7.1 allows; a minute of grace."""
NEAR_S = 90.0
"""Readings so near to a moment tell its value together."""


class LightFrom(StrEnum):
    """Where the light of an interval is known from."""

    SENSOR = "sensor"
    CLEAR_SKY = "clear sky"


@dataclass(frozen=True, slots=True)
class Light:
    """Light over a while [W/m²]: across the beam and on level ground; ``spread_wm2`` is the highest
    reading less the lowest, across the beam, None where too few were taken.
    """

    across_wm2: float
    level_wm2: float
    spread_wm2: float | None
    source: LightFrom


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """One cook. ``weighed`` says of every load of the log whether its mass was told; ``notes`` are
    what was told in notes, by time [Unix s]; ``aperture_m2`` is None where nobody measured it.
    ``index`` are clear-sky indices understood from the pot, in blocks of ten minutes that end with
    the log, empty where nothing was understood.
    """

    log: CookLog
    weighed: tuple[bool, ...]
    notes: tuple[tuple[float, Mapping[str, str]], ...]
    aperture_m2: float | None
    index: tuple[float, ...] = ()

    @classmethod
    def of(
        cls,
        recording: Recording,
        spec: CookerSpec,
        tables: Sequence[DayTable],
        foods: Mapping[str, Food],
    ) -> "Evidence":
        """From a recording and the tables of its days."""
        log = CookLog(spec, recording.header.place, tables, foods)
        fill(log, recording)
        events = [row for row in recording.rows if row.event is not None]
        return cls(
            log,
            tuple("mass_kg" in row.detail for row in events if row.event is EventKind.LOAD),
            tuple((unix_s(r.at), _noted(r)) for r in events if r.event is EventKind.NOTE),
            recording.header.aperture_m2,
        )

    def understood(self, index: Floats) -> "Evidence":
        """The same with the sky as the pot tells it, shape (m,), blocks that end with the log."""
        return replace(self, index=tuple(index.tolist()))

    def loads(self) -> Sequence[tuple[Loaded, bool]]:
        """Each load, and whether it was weighed."""
        return list(zip(self.log.loads, self.weighed, strict=True))

    def told(self, key: str, at_s: float) -> str | None:
        """What the last note before a time says under this key, None when none does."""
        said = [detail[key] for noted_s, detail in self.notes if noted_s <= at_s and key in detail]
        return said[-1] if said else None

    def number(self, key: str, at_s: float) -> float | None:
        """The same as a number, None when it is none."""
        try:
            return float(self.told(key, at_s) or "")
        except ValueError:
            return None

    def value(self, role: Role, at_s: float) -> float | None:
        """What a probe showed at one moment, a straight line through the readings around it; None
        within a gap.
        """
        times, values = self.log.trace.between(role, at_s - LONGEST_GAP_S, at_s + LONGEST_GAP_S)
        near = np.abs(times - at_s) <= NEAR_S
        if near.sum() >= 3 and times[near][0] <= at_s <= times[near][-1]:
            _, level = np.polyfit(times[near] - at_s, values[near], 1)
            return float(level)
        after = int(np.searchsorted(times, at_s))
        if after < len(times) and times[after] == at_s:
            return float(values[after])
        if after in (0, len(times)) or times[after] - times[after - 1] > LONGEST_GAP_S:
            return None
        return float(np.interp(at_s, times, values))

    def mean(self, role: Role, since_s: float, until_s: float) -> float | None:
        """The mean of a probe over a while; None where it was not read often enough for that."""
        times, values = self.log.trace.between(role, since_s, until_s)
        if len(times) == 0 or np.diff(times, prepend=since_s, append=until_s).max() > LONGEST_GAP_S:
            return None
        return float(values.mean())

    def light(self, since_s: float, until_s: float) -> Light | None:
        """The light over a while; None where neither sensor nor clear sky tells it."""
        times, values = self.log.trace.between(Role.IRRADIANCE, since_s, until_s)
        if len(times):
            spread_known, source = len(times) >= 3, LightFrom.SENSOR
        elif self._clear(since_s, until_s):
            times = np.linspace(since_s, until_s, max(int((until_s - since_s) / 120), 5))
            spread_known, source = False, LightFrom.CLEAR_SKY
        else:
            return None
        sky = light.clear_sky(self.log.tables, self.log.place.horizon, times)
        measured = source is LightFrom.SENSOR
        index = light.index_of(values, sky) if measured else np.full(len(times), CLEAR_INDEX)
        across = across_beam(index, sky, times)
        if not np.isfinite(across).all():
            return None
        level = values if measured else CLEAR_INDEX * sky.ghi
        spread = float(np.ptp(across)) if spread_known else None
        return Light(float(across.mean()), float(level.mean()), spread, source)

    def disturbed(self, since_s: float, until_s: float) -> bool:
        """Whether a lid was lifted, or something put in or out, within a while or just before."""
        return any(since_s - DISTURBED_S < lid_s < until_s for lid_s in self.log.lids_s)

    def _clear(self, since_s: float, until_s: float) -> bool:
        span = self.log.trace.span()
        if span is None or not self.index:
            return False
        starts = span[1] - BLOCK_S * (len(self.index) - np.arange(len(self.index)))
        inside = (starts < until_s - 1) & (starts + BLOCK_S > since_s + 1)
        return bool(inside.any() and (np.array(self.index)[inside] >= CLEAR_FROM).all())


def _noted(row: Row) -> Mapping[str, str]:
    """The keys of a note; free words such as ``set-up: bag`` or ``rebuilt`` make a key as well."""
    text = row.detail.get("text", "")
    key, _, value = text.partition(":")
    return {**row.detail, key.strip().lower(): value.strip()} if text else row.detail
