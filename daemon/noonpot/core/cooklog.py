"""All that was read and done at one cooker in one cook, as the forecaster needs it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import light, load
from noonpot.core.cook import Event, EventKind
from noonpot.core.estimation import CookerCase, FoodCase
from noonpot.core.foods import Food, Target, asked_target, celsius, target_at
from noonpot.core.readings import Role
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable, unix_s
from noonpot.core.trace import BIN_S, Grid, Trace
from noonpot.core.water import boiling_point_c

Floats = NDArray[np.float64]

TARGET_C = 90.0
"""Taken where neither load nor table of foods names a target (common practice, no source)."""
POSSIBLE_KG, POSSIBLE_C = (0.02, 50.0), (-30.0, 120.0)
"""Loads and their starting temperatures outside are taken for slips of the pen."""
DISTURBED_S = 360.0
"""How long after a lid was lifted or a load put in the heat balance is not judged."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """One load: when [Unix s], what, and what is known of it; ``words`` tell what the elevation
    changes about its target. Its core must keep the target for ``hold_s`` [s]; ``safe_c`` [°C]
    makes food safe that can make people ill; ``meal_s`` [Unix s] is when it shall be eaten.
    """

    at_s: float
    food: str
    mass_kg: float
    start_c: float | None
    target_c: float
    wet: bool | None
    until_s: float = float("inf")
    words: str = ""
    hold_s: float = 0.0
    safe_c: float | None = None
    meal_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Situation:
    """The cook as seen at one moment, on the grid: clear sky and misaim in every bin."""

    grid: Grid
    sky: light.ClearSky
    misaim_deg: Floats


@dataclass(slots=True)
class CookLog:
    """Grows by readings and events; nothing in it is ever taken back. ``temperature`` writes one
    [°C] as the household reads it.
    """

    cooker: CookerSpec
    place: Place
    tables: Sequence[DayTable]
    foods: Mapping[str, Food] = field(default_factory=dict)
    temperature: Callable[[float], str] = celsius
    trace: Trace = field(default_factory=Trace)
    aims: list[tuple[float, float, float]] = field(default_factory=list)
    loads: list[Loaded] = field(default_factory=list)
    lids_s: list[float] = field(default_factory=list)

    @property
    def boiling_c(self) -> float:
        """Where water boils at this elevation [°C]."""
        return boiling_point_c(self.place.elevation_m)

    def event(self, event: Event) -> None:
        """Take note of what a person did. Raises CookError for a number that is none."""
        at_s = unix_s(event.at)
        match event.kind:
            case EventKind.AIM:
                azimuth, elevation = event.number("azimuth"), event.number("elevation")
                if azimuth is not None and elevation is not None:
                    self.aims.append((at_s, azimuth, elevation))
            case EventKind.LOAD:
                self._end_load(at_s)
                self.loads.append(self._loaded(event, at_s))
                self.lids_s.append(at_s)
            case EventKind.UNLOAD | EventKind.STOP:
                self._end_load(at_s)
                self.lids_s.append(at_s)
            case EventKind.LID:
                self.lids_s.append(at_s)
            case EventKind.SPOT:
                self.trace.add(Role.CORE, at_s, event.number("core_c"), lone=True)
            case _:
                pass

    def _end_load(self, at_s: float) -> None:
        if self.loads and self.loads[-1].until_s == float("inf"):
            self.loads[-1] = replace(self.loads[-1], until_s=at_s)

    def _loaded(self, event: Event, at_s: float) -> Loaded:
        name = event.detail.get("food", "")
        food = self.foods.get("-".join(name.lower().split()))
        wet = food.wet if food else None
        asked = event.number("target_c")
        target = Target(TARGET_C)
        if asked is not None:
            target = asked_target(food, asked, self.boiling_c, self.temperature)
        elif food is not None:
            target = target_at(food, self.boiling_c, self.temperature)
        mass = event.number("mass_kg")
        mass = load.MASS_KG[wet] if mass is None else float(np.clip(mass, *POSSIBLE_KG))
        start_c = event.number("start_c")
        if start_c is not None:
            start_c = float(np.clip(start_c, *POSSIBLE_C))
        meal = event.time("meal")
        return Loaded(
            at_s,
            name,
            mass,
            start_c,
            target.temp_c,
            wet,
            words=target.words,
            hold_s=food.hold_s if food else 0.0,
            safe_c=food.safe_c if food else target.temp_c,  # unknown food is taken for the worst
            meal_s=None if meal is None else unix_s(meal),
        )

    def load_at(self, now_s: float) -> Loaded | None:
        """What is in the pot at ``now_s``."""
        return next((x for x in reversed(self.loads) if x.at_s <= now_s < x.until_s), None)

    def aims_until(self, now_s: float) -> list[tuple[float, float, float]]:
        """The aims up to ``now_s``: (Unix time [s], azimuth, elevation)."""
        return [aim for aim in self.aims if aim[0] <= now_s]

    def situation(self, now_s: float) -> Situation | None:
        """The cook as seen at ``now_s``; None before the first reading."""
        span = self.trace.span()
        if span is None or now_s < span[0]:
            return None
        grid = self.trace.grid(now_s, span[0])
        sky = light.clear_sky(self.tables, self.place.horizon, grid.times_s)
        return Situation(grid, sky, light.misaim(self.aims_until(now_s), grid.times_s, sky))

    def food_case(self, situation: Situation, loaded: Loaded) -> tuple[FoodCase, slice]:
        """The load as a case to be judged, and the bins it has been in the pot."""
        grid = situation.grid
        starts = grid.times_s - BIN_S / 2
        first = int(np.searchsorted(starts, loaded.at_s - BIN_S / 2))
        last = int(np.searchsorted(starts, min(loaded.until_s, grid.now_s)))
        rows = slice(min(first, len(starts) - 1), max(last, first + 1))
        core = grid.core_c[rows]
        start_c = loaded.start_c
        if start_c is None:
            early = core[: int(1200 / BIN_S)]
            known = early[np.isfinite(early)]
            start_c = float(known.min()) if len(known) else float(grid.ambient_c[rows][0])
        pot = grid.pot_c[rows]
        air, target_c = grid.ambient_c[rows], loaded.target_c
        return FoodCase(pot, air, core, start_c, self.boiling_c, target_c, loaded.wet), rows

    def cooker_case(
        self, situation: Situation, flow_w: Floats, known: Sequence[Loaded]
    ) -> CookerCase:
        """The cooker as a case, without bins near a lid or with a load whose flow is unknown."""
        times = situation.grid.times_s
        use = np.ones(len(times))
        for at_s in self.lids_s:
            use[(times >= at_s - BIN_S) & (times < at_s + DISTURBED_S)] = 0.0
        for loaded in self.loads:
            if loaded not in known:
                use[(times >= loaded.at_s) & (times < loaded.until_s)] = 0.0
        return CookerCase.of(situation.grid, situation.sky, situation.misaim_deg, flow_w, use)
