"""Will it cook: one cooker and one dish on one day, for all hours at which it might go in."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

import numpy as np

from noonpot.core.cooklog import Loaded
from noonpot.core.dayahead import STEP_S, DayAhead
from noonpot.core.foods import Food, Target
from noonpot.core.forecast import SELDOM, CurvePoint
from noonpot.core.learning import Knowledge
from noonpot.core.outlook import QUANTILES
from noonpot.core.rehearsal import SURE, Circumstances, Course, Rehearsal, Tending
from noonpot.core.rescue import OtherHeat, Rescue, Stakes, rescue
from noonpot.core.skykind import SkyKind
from noonpot.core.station import CookerSpec
from noonpot.core.sun import unix_s

WORTH = 0.5
"""With less chance than this a dish is better cooked another way."""
ALIKE = 0.95
"""Chances that come to this share of the best are taken to be as good."""
QUARTER = int(900 / STEP_S)
CURVE = slice(None, None, int(600 / STEP_S))


@dataclass(frozen=True, slots=True)
class Dish:
    """What is to be cooked: how much [kg], how cold it goes in [°C], and what its core must reach
    where water boils at ``boiling_c`` [°C].
    """

    food: Food
    mass_kg: float
    start_c: float
    target: Target
    boiling_c: float


@dataclass(frozen=True, slots=True)
class Loading:
    """One time at which the food might go in, and what comes of it.

    The cooker stands in the sun since ``out_at``; ``p_hot`` is the chance that its pot is then as
    hot as the food wants, None when it wants nothing. ``p_done`` is the chance that the core has
    held its target before the sun is lost, ``p_meal`` that it has before the meal, None without
    one. ``done_p10/p50/p90`` say when, given that it does before the sun is lost. ``aim`` is where
    a cooker points that is left alone: azimuth and elevation [degrees].
    """

    load_at: datetime
    out_at: datetime
    p_hot: float | None
    p_done: float
    p_meal: float | None
    done_p10: datetime | None = None
    done_p50: datetime | None = None
    done_p90: datetime | None = None
    aim: tuple[float, float] | None = None

    @property
    def chance(self) -> float:
        """The chance that counts: before the meal if there is one, else before the sun is lost."""
        return self.p_done if self.p_meal is None else self.p_meal

    @property
    def worth(self) -> bool:
        """Whether it is worth a try, by the chance as it is told."""
        return round(self.chance, 2) >= WORTH


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer for one cooker. ``hours`` are the loading times to compare; ``chosen`` is the one
    asked for, or else the best; ``latest`` the last that is likely enough, None when none is.
    ``curve`` is the core to be expected after the chosen one, ``rescue`` its rescue time.
    """

    cooker: CookerSpec
    dish: Dish
    cooks: int
    tending: Tending
    sun_from: datetime
    sun_lost: datetime
    hours: tuple[Loading, ...]
    best: Loading
    chosen: Loading
    latest: Loading | None
    curve: tuple[CurvePoint, ...]
    rescue: Rescue | None

    @property
    def worth(self) -> bool:
        """Whether any loading time makes it worth a try."""
        return self.best.worth or self.chosen.worth


@dataclass(frozen=True, slots=True, eq=False)
class Wish:
    """What is asked of every cooker alike: the dish, the day with its sky and air [°C], and when
    the food shall go in and be eaten, None for "say when" and "whenever it is done".
    """

    dish: Dish
    day: DayAhead
    sky: SkyKind
    air_c: float
    timezone: tzinfo
    at: datetime | None = None
    meal: datetime | None = None
    heat: OtherHeat = field(default_factory=OtherHeat)


def plan(spec: CookerSpec, knowledge: Knowledge, wish: Wish, tending: Tending) -> Plan:
    """Go through the day for one cooker. The day must have some daylight."""
    dish, day = wish.dish, wish.day
    food = dish.food
    rehearsal = Rehearsal(
        spec,
        knowledge,
        Loaded(0.0, food.name, dish.mass_kg, dish.start_c, dish.target.temp_c, food.wet),
        day,
        wish.sky,
        Circumstances(dish.boiling_c, wish.air_c, food.hold_s, food.loading_pot_c, tending),
    )
    planner = _Planner(rehearsal, wish)
    steps = list(_hours(day, wish.timezone))
    hours = {step: planner.loading(step) for step in steps}
    best = _best(hours)
    chosen = best if wish.at is None else day.step_at(unix_s(wish.at))
    hours[chosen] = planner.loading(chosen)
    latest = planner.latest({step: hours[step] for step in steps})
    course = planner.course(chosen)
    return Plan(
        cooker=spec,
        dish=dish,
        cooks=knowledge.cooks,
        tending=tending,
        sun_from=day.time_of(0),
        sun_lost=day.time_of(len(day)),
        hours=tuple(hours[step] for step in sorted(hours)),
        best=hours[best],
        chosen=hours[chosen],
        latest=latest,
        curve=planner.curve(course),
        rescue=planner.rescue(course),
    )


class _Planner:
    """Reads off the rehearsal what a plan wants to know."""

    def __init__(self, rehearsal: Rehearsal, wish: Wish) -> None:
        self._rehearsal = rehearsal
        self._wish = wish
        self._day = wish.day
        self._courses: dict[int, Course] = {}

    def course(self, step: int) -> Course:
        if step not in self._courses:
            self._courses[step] = self._rehearsal.course(step)
        return self._courses[step]

    def loading(self, step: int) -> Loading:
        course, day, wish = self.course(step), self._day, self._wish
        load_at = day.time_of(step)
        done = course.done_s[np.isfinite(course.done_s)]
        share = len(done) / len(course.done_s)
        p10 = p50 = p90 = None
        if share >= SELDOM:
            p10, p50, p90 = (day.time_of(step + s / STEP_S) for s in np.quantile(done, QUANTILES))
        meal_s = None if wish.meal is None else (wish.meal - load_at).total_seconds()
        clear, toward = day.clear, course.toward
        return Loading(
            load_at=load_at,
            out_at=day.time_of(course.out),
            p_hot=None if wish.dish.food.loading_pot_c is None else float(course.hot.mean()),
            p_done=share,
            p_meal=None if meal_s is None else float((course.done_s <= meal_s).mean()),
            done_p10=p10,
            done_p50=p50,
            done_p90=p90,
            aim=None
            if toward is None
            else (float(clear.azimuth_deg[toward]), float(clear.elevation_deg[toward])),
        )

    def latest(self, hours: dict[int, Loading]) -> Loading | None:
        """The last loading with a good chance, to a quarter of an hour."""
        good = [step for step, loading in hours.items() if loading.chance >= SURE]
        if not good:
            return None
        late = max(good)
        for later in (2 * QUARTER, QUARTER):
            step = late + later
            if step < len(self._day) and self.loading(step).chance >= SURE:
                late = step
        return self.loading(late)

    def curve(self, course: Course) -> tuple[CurvePoint, ...]:
        band = np.quantile(course.cores[:, CURVE], QUANTILES, axis=0).T.tolist()
        steps = range(course.load, len(self._day) + 1)[CURVE]
        return tuple(
            CurvePoint(self._day.time_of(step), *cores)
            for step, cores in zip(steps, band, strict=True)
        )

    def rescue(self, course: Course) -> Rescue | None:
        wish, food = self._wish, self._wish.dish.food
        begin_s = self._day.begin_s + STEP_S * course.load
        poor = np.asarray(np.quantile(course.cores, QUANTILES[0], axis=0))
        stakes = Stakes(
            target_c=wish.dish.target.temp_c,
            mass_kg=wish.dish.mass_kg,
            wet=food.wet,
            hold_s=food.hold_s,
            meal_s=None if wish.meal is None else unix_s(wish.meal),
            safe_c=food.safe_c,
            lukewarm_since_s=begin_s,
        )
        times_s = np.asarray(begin_s + STEP_S * np.arange(len(poor)), np.float64)
        return rescue(times_s, poor, stakes, wish.heat)


def _hours(day: DayAhead, timezone: tzinfo) -> Iterable[int]:
    """The first step, where the day is under way, and those that begin with an hour of the clock.

    The last half hour of sun cooks nothing.
    """
    for step in range(len(day) - 2 * QUARTER):
        at = day.time_of(step).astimezone(timezone)
        if at.minute == 0 or step == 0:
            yield step


def _best(hours: dict[int, Loading]) -> int:
    """The likeliest; of several that are alike the last, when the food waits least."""
    most = max(loading.chance for loading in hours.values())
    return max(step for step, loading in hours.items() if loading.chance >= ALIKE * most)
