"""The rescue time: the last moment to move food to another heat and still be in time and safe."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from noonpot.core import load

Floats = NDArray[np.float64]

DANGER_C = 57.0
"""Above this no germ grows: FDA Food Code 3-501.16, 135 °F. Below 5 °C hardly any does either."""
OVEN_RISE_K = 75.0
"""What the middle of a loaf or a roast rises by in ``OtherHeat.oven_s``, about 20 to 95 °C."""
LOOK_S = 60.0


class Because(StrEnum):
    """What would be missed after the rescue time."""

    MEAL = "meal"
    SAFETY = "safety"


@dataclass(frozen=True, slots=True)
class OtherHeat:
    """The kitchen that stands by.

    ``ready_s`` [s] passes until it is hot and the food on it. Food that cooks in water takes what
    ``stove_w`` [W] gives it: a plate or flame of 1500 W gives a covered pot about half (common
    practice, no source). All other food is baked: ``oven_s`` [s] for 1 kg from cold until its
    middle is done; a loaf takes 40 to 60 min, a roast 60 to 90 (common practice, no source).

    ``limit_s`` [s] is how long food that can make people ill may stand between 5 and 57 °C: 4 h by
    the FDA Food Code, 3-501.19 (time as the only control, then the food is discarded).
    """

    ready_s: float = 900.0
    stove_w: float = 800.0
    oven_s: float = 3600.0
    limit_s: float = 14_400.0

    def heating_s(
        self, core_c: Floats, target_c: float, mass_kg: float, *, wet: bool | None
    ) -> Floats:
        """How long the other heat takes from ``core_c`` to ``target_c`` [s], any shape.

        In an oven the time grows as mass^(2/3), as conduction in a solid does. Unknown food takes
        the longer of both ways.

        >>> round(float(OtherHeat().heating_s(np.array(20.0), 90.0, 1.2, wet=True)))
        399
        """
        missing_k = np.maximum(target_c - core_c, 0.0)
        stove_s = missing_k * load.heat_j_per_k(mass_kg, wet) / self.stove_w
        oven_s = missing_k / OVEN_RISE_K * self.oven_s * mass_kg ** (2 / 3)
        if wet is None:
            return np.asarray(np.maximum(stove_s, oven_s))
        return np.asarray(stove_s if wet else oven_s)


@dataclass(frozen=True, slots=True)
class Stakes:
    """What must be reached: a core of ``target_c`` [°C] for ``hold_s`` [s], by ``meal_s`` [Unix s]
    if there is a meal. ``safe_c`` [°C] makes food safe that can make people ill, None for other
    food; since ``lukewarm_since_s`` [Unix s] it has stood between 5 and 57 °C.
    """

    target_c: float
    mass_kg: float
    wet: bool | None
    hold_s: float = 0.0
    meal_s: float | None = None
    safe_c: float | None = None
    lukewarm_since_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Rescue:
    """When the food must be moved at the latest [Unix s], and what is missed after that. A time
    before the course begins has been missed, however quickly the food is moved now.
    """

    at_s: float
    because: Because


def rescue(times_s: Floats, core_c: Floats, stakes: Stakes, heat: OtherHeat) -> Rescue | None:
    """The rescue time of food whose core runs so, from now until the sun is lost; None when it
    needs none: on this course it is done in time, and safe.

    ``times_s`` [Unix s] and ``core_c`` [°C] have shape (n,). Give it the course that only one
    future in ten falls short of: who must move food in time has to reckon with a poor course, and
    as the hour comes nearer that draws close to the middle one. Waiting never pays beyond the end
    of the course, so that is the latest answer.
    """
    steps = max(int((times_s[-1] - times_s[0]) / LOOK_S), 0)
    times = times_s[0] + LOOK_S * np.arange(steps + 1)
    core = np.interp(times, times_s, core_c)
    ways = (_for_safety(times, core, stakes, heat), _for_meal(times, core, stakes, heat))
    return min((r for r in ways if r is not None), key=lambda r: r.at_s, default=None)


def _for_meal(times: Floats, core: Floats, stakes: Stakes, heat: OtherHeat) -> Rescue | None:
    if stakes.meal_s is None:
        return None
    over = core >= stakes.target_c
    held_s = _held(times, over)
    if (over & (held_s >= stakes.hold_s) & (times <= stakes.meal_s)).any():
        return None
    need_s = heat.heating_s(core, stakes.target_c, stakes.mass_kg, wet=stakes.wet)
    need_s = heat.ready_s + need_s + np.maximum(stakes.hold_s - held_s, 0.0)
    return Rescue(_last(times, times + need_s, stakes.meal_s), Because.MEAL)


def _for_safety(times: Floats, core: Floats, stakes: Stakes, heat: OtherHeat) -> Rescue | None:
    """Out of the danger zone within the limit, and not left to cool before it is safe."""
    if stakes.safe_c is None:
        return None
    limit_s = stakes.lukewarm_since_s + heat.limit_s
    warm = core >= DANGER_C
    if not warm[0] and not (warm & (times <= limit_s)).any():
        need_s = heat.heating_s(core, DANGER_C, stakes.mass_kg, wet=stakes.wet)
        return Rescue(_last(times, times + heat.ready_s + need_s, limit_s), Because.SAFETY)
    if core.max() < stakes.safe_c:
        return Rescue(float(times[warm][-1]), Because.SAFETY)  # it cools, or the sun is lost
    return None


def _held(times: Floats, over: NDArray[np.bool_]) -> Floats:
    """How long it has been so without a break at each time [s], 0 where it is not."""
    began = np.maximum.accumulate(np.where(over, times[0], times + LOOK_S))
    return np.where(over, times - began, 0.0)


def _last(times: Floats, ends: Floats, deadline_s: float) -> float:
    """The last time to begin with what then ends in time; if there is none, as long ago as the
    first is late.
    """
    good = np.flatnonzero(ends <= deadline_s)
    return float(times[good[-1]] if len(good) else times[0] + deadline_s - ends[0])
