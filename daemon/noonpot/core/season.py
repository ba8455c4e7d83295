"""How one dish fares through one day of a month, for all hours at which it might go in, at once.

The futures are those of the forecaster. All loading times march side by side, counted from the
loading of each, so that a whole table of foods and months takes seconds and not hours.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, futures, light, load
from noonpot.core.cooklog import Loaded
from noonpot.core.dayahead import STEP_S, DayAhead
from noonpot.core.insight import FOOD_DOUBT, KETTLE_DOUBT
from noonpot.core.learning import Knowledge, cooker_belief, food_belief
from noonpot.core.planning import ALIKE, Dish
from noonpot.core.rehearsal import SURE, held
from noonpot.core.rescue import DANGER_C, OtherHeat
from noonpot.core.skykind import SkyKind
from noonpot.core.station import CookerSpec

Floats = NDArray[np.float64]

MEMBERS = 120
HOUR, HALF_HOUR = int(3600 / STEP_S), int(1800 / STEP_S)
PREHEAT = int(5400 / STEP_S)
"""Food that wants a hot pot goes in when the cooker has stood in the sun for an hour and a half."""
SELDOM = 0.01
NEVER_C = -1000.0
SEED = 0
"""The same for all cells: so months and foods differ by what they are and not by chance."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What becomes of a dish on such a day, put in at a good time, ``load_step`` of the day: the
    chance of being done before the sun is lost, and of not being lukewarm for too long before; the
    time it then takes [s], if it gets done; the last step with a good chance. None: nothing to
    tell.
    """

    chance: float
    load_step: int | None = None
    takes_s: float | None = None
    latest_step: int | None = None


def outcome(
    spec: CookerSpec,
    knowledge: Knowledge,
    dish: Dish,
    day: DayAhead,
    kind: SkyKind,
    air_c: float,
    every_s: float,
) -> Outcome:
    """Go through the day with food put in at every whole hour since sunrise."""
    food = dish.food
    before = 0 if food.loading_pot_c is None else PREHEAT
    steps = np.arange(before, len(day) - HALF_HOUR, HOUR)
    if len(steps) == 0:
        return Outcome(0.0)
    rng = np.random.default_rng(SEED)
    loaded = Loaded(0.0, food.name, dish.mass_kg, dish.start_c, dish.target.temp_c, food.wet)
    kettle = cooker_belief(knowledge, spec).draw(MEMBERS, rng)[rng.permutation(MEMBERS)]
    kettle = kettle + KETTLE_DOUBT * rng.standard_normal(kettle.shape)
    what = food_belief(knowledge, loaded).draw(MEMBERS, rng)
    what = what + FOOD_DOUBT * rng.standard_normal(what.shape)
    begin = _begin(kettle, what, air_c, len(steps))
    useful = _light(day, kind, begin.kettle.rows(np.arange(MEMBERS)), every_s, rng)

    def part(first: int, count: int) -> Floats:
        """Light of ``count`` steps for every loading time; the night is dark."""
        dark = np.concatenate([useful, np.zeros((MEMBERS, count))], axis=1)
        rows = steps[:, None] + first + np.arange(count)
        return np.concatenate([dark[:, row] for row in rows])

    span = len(day) - before
    target_c, lengths = dish.target.temp_c, np.full(span, STEP_S)
    if before:
        heated = futures.run(
            begin, part(-before, before), np.full(before, STEP_S), air_c, dish.boiling_c, target_c
        )
        begin = heated.end
    cold = load.start(np.full(len(begin.pot_c), dish.start_c))
    heat = load.heat_j_per_k(dish.mass_kg, food.wet) / begin.kettle.capacity
    begin = replace(begin, stages=cold, load_share=heat)
    path = futures.run(begin, part(0, span), lengths, air_c, dish.boiling_c, target_c)
    cores = np.column_stack([cold[-1], path.cores])
    left = np.repeat(len(day) - steps, MEMBERS)
    cores = np.where(np.arange(span + 1) <= left[:, None], cores, NEVER_C)
    done_s = held(cores, target_c, food.hold_s)
    if food.hazardous and food.spoils:  # what was lukewarm for too long is no meal
        done_s = np.where(held(cores, DANGER_C, 0.0) <= OtherHeat().limit_s, done_s, np.inf)
    done_s = done_s.reshape(len(steps), MEMBERS)
    return _told(steps, done_s)


def _told(steps: NDArray[np.int_], done_s: Floats) -> Outcome:
    chances = np.isfinite(done_s).mean(axis=1)
    most = float(chances.max())
    if most < SELDOM:
        return Outcome(most)
    alike = np.flatnonzero(chances >= ALIKE * most)
    best = int(alike[len(alike) // 2])  # well away from both ends, where little decides
    sure = np.flatnonzero(chances >= SURE)
    done = done_s[best][np.isfinite(done_s[best])]
    return Outcome(
        float(chances[best]),
        int(steps[best]),
        float(np.median(done)),
        int(steps[sure[-1]]) if len(sure) else None,
    )


def _begin(kettle: Floats, food: Floats, air_c: float, times: int) -> futures.Start:
    """The same members for each of so many loading times, all cold."""
    count = MEMBERS * times
    cold, no = np.full(count, air_c), np.zeros(count)
    return futures.Start(
        kettle=cooker.Cooker.of(np.tile(kettle, (times, 1))),
        food=load.FoodConstants.of(np.tile(food, (times, 1))),
        stages=load.start(cold),
        pot_c=cold,
        wall_c=cold,
        push=no,
        pace=no,
        load_share=no,
    )


def _light(
    day: DayAhead,
    kind: SkyKind,
    kettle: cooker.Cooker,
    every_s: float,
    rng: np.random.Generator,
) -> Floats:
    skies = kind.draw(day.steps_s, MEMBERS, rng)
    return light.on_aperture(
        skies,
        day.clear,
        day.turned(every_s),
        kettle.acceptance[:, None],
        kettle.diffuse[:, None],
    )
