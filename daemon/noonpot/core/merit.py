"""First and second figure of merit: how hot the empty cooker gets for its light, and how well it
hands heat to water.

Source: S. C. Mullick, T. C. Kandpal and A. K. Saxena, Solar Energy 39 (1987) 353-360, taken into
IS 13429 (2000). The limits below are known from memory.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core.evidence import Evidence, Light, LightFrom
from noonpot.core.load import HEAT_PER_KG
from noonpot.core.readings import Role
from noonpot.core.straightline import Estimate, mean_of
from noonpot.core.tenminutes import WATER_J_KGK, is_water

Floats = NDArray[np.float64]

GRADE_A, GRADE_B, SECOND_LEAST = 0.12, 0.11, 0.40
FROM_C, TO_C, BELOW_BOILING_K = 60.0, 90.0, 5.0
LEAST_WM2 = 600.0
KG_PER_M2, KG_NEAR = 8.0, 0.1
STILL_S, STILL_K = 600.0, 2.0
"""Stagnation: ten minutes within 1 K up or down."""
HOT_K, NEAR_TOP_K = 40.0, 2.0
"""An empty pot that stands still is believed to be at its hottest only so far above the air, and
this near to the hottest it was (our choice)."""
ZENITH_DEG = 85.0


@dataclass(frozen=True, slots=True)
class Stagnation:
    """The empty cooker at its hottest: pot and air [°C] and light in the plane of its aperture."""

    at_s: float
    pot_c: float
    ambient_c: float
    light_wm2: float
    light_from: LightFrom = LightFrom.SENSOR

    @property
    def first(self) -> float:
        """The first figure of merit [m² K/W]."""
        return first_merit(self.pot_c, self.ambient_c, self.light_wm2)


@dataclass(frozen=True, slots=True)
class Warming:
    """A load between two temperatures: how long it took [s] under which light and air."""

    at_s: float
    from_c: float
    to_c: float
    seconds: float
    heat_j_k: float
    ambient_c: float
    light_wm2: float
    water: bool
    kg_per_m2: float
    light_from: LightFrom = LightFrom.SENSOR


@dataclass(frozen=True, slots=True)
class Merit:
    """Both figures with what they rest on. ``first_guessed`` says that the first is not measured
    but reckoned from the profile; a figure without proof is None, an interval without at least two
    proofs as well.
    """

    first: float | None
    first_guessed: bool
    second: float | None
    first_between: Estimate | None
    second_between: Estimate | None
    stagnations: tuple[Stagnation, ...]
    warmings: tuple[Warming, ...]

    @property
    def measured(self) -> bool:
        """Whether a sensor told the light wherever it was needed."""
        sources = {s.light_from for s in self.stagnations} | {w.light_from for w in self.warmings}
        return sources <= {LightFrom.SENSOR}

    @property
    def grade(self) -> str | None:
        """Grade of a measured first figure, "A" or "B", None below both."""
        if self.first is None or self.first_guessed:
            return None
        return "A" if self.first >= GRADE_A else "B" if self.first >= GRADE_B else None


def first_merit(pot_c: float, ambient_c: float, light_wm2: float) -> float:
    """F1 = (Tp - Ta) / I [m² K/W].

    >>> round(first_merit(132, 32, 850), 6)
    0.117647
    """
    return (pot_c - ambient_c) / light_wm2


def second_merit(first: float, warming: Warming, aperture_m2: float) -> float | None:
    """F2 [-]; None where this light could never have brought the load there."""
    reach_k = first * warming.light_wm2
    left = [1 - (c - warming.ambient_c) / reach_k for c in (warming.from_c, warming.to_c)]
    if min(left) <= 0:
        return None
    scale = first * warming.heat_j_k / (aperture_m2 * warming.seconds)
    return scale * math.log(left[0] / left[1])


def merit(cooks: Sequence[Evidence], guessed_first: float | None = None) -> Merit:
    """Both figures out of all cooks; each is the mean of what was found.

    ``guessed_first`` is taken where the empty cooker was never seen at its hottest.
    """
    stagnations = tuple(s for cook in cooks if (s := stagnation(cook)) is not None)
    warmings = tuple(w for cook in cooks for w in cook_warmings(cook))
    firsts = np.array([s.first for s in stagnations])
    first = float(firsts.mean()) if len(firsts) else guessed_first
    area = next((c.aperture_m2 for c in cooks if c.aperture_m2 is not None), None)
    found: list[float] = []
    if first is not None and area is not None:
        each = (second_merit(first, w, area) for w in warmings)
        found = [second for second in each if second is not None]
    return Merit(
        first=first,
        first_guessed=len(firsts) == 0 and first is not None,
        second=float(np.mean(found)) if found else None,
        first_between=mean_of(firsts),
        second_between=mean_of(np.array(found)),
        stagnations=stagnations,
        warmings=warmings,
    )


def stagnation(cook: Evidence) -> Stagnation | None:
    """The empty cooker at its hottest in one cook, if it came to rest in good light."""
    span = cook.log.trace.span()
    if span is None:
        return None
    begin_s = span[0]
    end_s = min([loaded.at_s for loaded, _ in cook.loads()], default=span[1])
    times, pots = cook.log.trace.between(Role.POT, begin_s, end_s)
    found: list[Stagnation] = []
    for at_s in np.arange(begin_s + STILL_S, end_s + 1, STILL_S / 2):
        rows = (times > at_s - STILL_S) & (times <= at_s)
        if rows.sum() < 3 or cook.disturbed(at_s - STILL_S, at_s - 1):
            continue
        air_c = cook.mean(Role.AMBIENT, at_s - STILL_S, at_s)
        shone = cook.light(at_s - STILL_S, at_s)
        if air_c is None or shone is None:
            continue
        pot_c = float(pots[rows].mean())
        still = abs(_drift(times[rows], pots[rows])) * STILL_S <= STILL_K
        good = still and pot_c >= air_c + HOT_K and pot_c >= pots.max() - NEAR_TOP_K
        shines = in_aperture(cook, shone, at_s)
        if good and shines >= LEAST_WM2:
            found.append(Stagnation(float(at_s), pot_c, air_c, shines, shone.source))
    return max(found, key=lambda s: s.first, default=None)


def cook_warmings(cook: Evidence) -> Iterator[Warming]:
    """The loads of a cook that warmed from 60 to 90 °C with the lid closed, or to 5 K below boiling
    where that is less, in good light.
    """
    span = cook.log.trace.span()
    if span is None or cook.aperture_m2 is None:
        return
    to_c = min(TO_C, cook.log.boiling_c - BELOW_BOILING_K)
    for loaded, weighed in cook.loads():
        water = is_water(loaded.food)
        if not weighed or not (loaded.wet or water):
            continue
        begin_s, end_s = loaded.at_s, min(loaded.until_s, span[1])
        times, cores = cook.log.trace.between(Role.CORE, begin_s, end_s)
        since_s, until_s = (crossed_s(times, cores, c) for c in (FROM_C, to_c))
        if since_s is None or until_s is None or cook.disturbed(since_s, until_s):
            continue
        air_c = cook.mean(Role.AMBIENT, since_s, until_s)
        shone = cook.light(since_s, until_s)
        if air_c is None or shone is None or in_aperture(cook, shone, since_s) < LEAST_WM2:
            continue
        yield Warming(
            at_s=since_s,
            from_c=FROM_C,
            to_c=to_c,
            seconds=until_s - since_s,
            heat_j_k=loaded.mass_kg * (WATER_J_KGK if water else HEAT_PER_KG[True]),
            ambient_c=air_c,
            light_wm2=in_aperture(cook, shone, since_s),
            water=water,
            kg_per_m2=loaded.mass_kg / cook.aperture_m2,
            light_from=shone.source,
        )


def in_aperture(cook: Evidence, shone: Light, at_s: float) -> float:
    """Light in the plane of the aperture [W/m²]: on level ground where the cooker points straight
    up, as the standard has it, else across the beam.
    """
    aims = cook.log.aims_until(at_s)
    return shone.level_wm2 if aims and aims[-1][2] >= ZENITH_DEG else shone.across_wm2


def crossed_s(times: Floats, values: Floats, level: float) -> float | None:
    """When values first rise through a level [s], None when they begin above or never get there."""
    over = np.flatnonzero(values >= level)
    if len(over) == 0 or over[0] == 0:
        return None
    i = over[0]
    part = (level - values[i - 1]) / (values[i] - values[i - 1])
    return float(times[i - 1] + part * (times[i] - times[i - 1]))


def _drift(times: Floats, values: Floats) -> float:
    """How fast values change [K/s], by a straight line."""
    slope, _ = np.polyfit(times - times[-1], values, 1)
    return float(slope)
