"""What a cook so far tells of food, cooker, sky and person: all that its futures start from."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, futures, light, load, sky
from noonpot.core.belief import Belief, posterior
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.estimation import (
    BLOCK_S,
    SETTLING_S,
    CookerCase,
    FoodCase,
    cooker_misses,
    food_misses,
    inferred_index,
    middles,
    run_food,
)
from noonpot.core.learning import Knowledge, cooker_belief, food_belief
from noonpot.core.trace import BIN_S

Floats = NDArray[np.float64]

MEMBERS = 200
ROUNDS = 3
PROCESS = sky.SkyProcess()
TOP_INDEX, TOP_SD = 1.04, 0.05
"""Index of a clear sky: what the tables of turbidity leave open."""
RECENT_BLOCKS = 18
INDEX_SD = 0.035
"""How well the index of ten minutes is known, measured or told by the pot: in what the pot tells,
the members differ already."""
LONGEST_S = 18 * 3600.0
SLOPE_S, ENOUGH_BINS = 1200.0, 5
PACE_TRUST, SLOW_K_S = 0.9, 0.04 / 60
"""So much of a difference of pace is believed, and below this pace none."""
PULL = np.array([0.4, 0.7, 0.9, 1.0])[:, None]
"""How far each stage is moved when the core is set onto its reading."""
FOOD_DOUBT = np.array([0.12, 0.12, 0.2, 0.2, 0.12, 0.02])
KETTLE_DOUBT = np.array([0.08, 0.08, 0.1, 0.1, 0.1, 0.05, 0.1, 0.05])
"""What the models themselves may get wrong from now on, beyond what the data leave open: set so
that on simulated cooks of richer physics the interval of 80 % holds what it says."""
UNSEEN_INDEX = 0.85
"""Clear-sky index taken for a past that neither sensor nor pot has seen."""
BLIND_DRIVE_SD = 0.2
"""Doubt about the surroundings of the food while nobody reads the pot."""


@dataclass(frozen=True, slots=True, eq=False)
class Insight:
    """Members of n futures, over the daylight that is left: ``steps_s`` long [s], their middles at
    ``times_s`` [Unix s], shape (steps,).

    ``clear`` is the clear sky to come, ``top`` each member's index of it, ``skies`` are clear-sky
    indices to come, ``misaims`` what the person is likely to leave of the aim [degrees], shape (n,
    steps). Of the past, ``balance`` is the cooker in blocks and ``index`` the sky as understood
    then, NaN in the dark, shape (m,).
    """

    begin: futures.Start
    steps_s: Floats
    times_s: Floats
    clear: light.ClearSky
    top: Floats
    skies: Floats
    misaims: Floats
    air_c: float
    balance: CookerCase
    index: Floats

    @property
    def index_now(self) -> float | None:
        """The clear-sky index of the last ten minutes [-]."""
        return float(self.index[-1]) if np.isfinite(self.index[-1:]).any() else None

    def light(self, skies: Floats, misaims: Floats, members: slice = slice(None)) -> Floats:
        """Useful light on the aperture of some members [W/m²], shape (n, steps)."""
        kettle = self.begin.kettle
        acceptance, diffuse = kettle.acceptance[members, None], kettle.diffuse[members, None]
        return light.on_aperture(skies, self.clear, misaims, acceptance, diffuse)

    def missed(self) -> Floats:
        """The share of a clear sky's useful light that clouds took in each past block, shape (m,),
        0 where nobody knows.
        """
        past = self.balance
        acceptance, diffuse = (
            np.median(x, keepdims=True)
            for x in (self.begin.kettle.acceptance, self.begin.kettle.diffuse)
        )
        clear = np.full_like(self.index, np.median(self.top))
        had, most = (
            light.on_aperture(index, past.sky, past.misaim_deg, acceptance, diffuse)
            for index in (self.index, clear)
        )
        share = 1 - had / np.maximum(most, 1.0)
        return np.where(np.isfinite(share) & (most > 1.0), np.clip(share, 0.0, 1.0), 0.0)


def understand(
    log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation, case: FoodCase
) -> Insight:
    """Find members that could have brought the cook to where it is.

    The random numbers depend on the time alone, so that the same cook gives the same answer.
    """
    now_s = situation.grid.now_s
    rng = np.random.default_rng(int(now_s) % 2**32)
    rows = log.food_case(situation, loaded)[1]
    pot_read = bool(situation.grid.pot_read[rows].all())
    food = _foods(food_belief(knowledge, loaded), case, rng, pot_read=pot_read)
    warmed = run_food(case, food)
    flow = np.zeros(len(situation.grid.times_s))
    heat = load.heat_j_per_k(loaded.mass_kg, loaded.wet)
    flow[rows] = warmed[2].mean(axis=1) * heat / BIN_S
    balance = log.cooker_case(situation, flow, [loaded])
    kettles = _kettles(log, knowledge, balance, rng)
    index = inferred_index(balance, kettles)

    steps, times, ahead = _daylight_left(log, now_s)
    kettle = cooker.Cooker.of(kettles + KETTLE_DOUBT * rng.standard_normal(kettles.shape))
    food = food + FOOD_DOUBT * rng.standard_normal(food.shape)
    belief = _sky_belief(index, rng)
    skies = sky.futures(belief, steps, rng, PROCESS)
    misaims = _misaims(log, knowledge, now_s, np.cumsum(steps), times, ahead, rng)
    stages, pace = _corrected(warmed[0], warmed[1], case)
    begin = futures.Start(
        kettle=kettle,
        food=load.FoodConstants.of(food),
        stages=stages,
        pot_c=np.full(MEMBERS, _now(situation.grid.pot_c)),
        wall_c=_walls(balance, kettle, situation.grid.pot_c),
        push=_push(balance, kettle, index),
        pace=pace,
        load_share=heat / kettle.capacity,
    )
    air = float(situation.grid.ambient_c[-10:].mean())
    middle = np.median(index, axis=0) if index.shape[1] else np.empty(0)
    return Insight(
        begin=begin,
        steps_s=steps,
        times_s=times,
        clear=ahead,
        top=belief.top,
        skies=skies,
        misaims=misaims,
        air_c=air,
        balance=balance,
        index=middle,
    )


def with_pot(log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation) -> Situation:
    """The same with the pot reckoned from light and losses where its probe told nothing."""
    grid, clear = situation.grid, situation.sky
    kettle = cooker.Cooker.of(cooker_belief(knowledge, log.cooker).mean[None, :])
    index = light.index_of(grid.ghi, clear)
    index = np.where(np.isfinite(index), index, UNSEEN_INDEX)
    useful = light.on_aperture(
        index, clear, situation.misaim_deg, kettle.acceptance, kettle.diffuse
    )
    share = load.heat_j_per_k(loaded.mass_kg, loaded.wet) / kettle.capacity
    burden = 1 + share * (grid.times_s >= loaded.at_s)
    pot = cooker.carried_on(
        kettle, grid.pot_c, grid.pot_read, useful, grid.ambient_c, burden, BIN_S
    )
    return replace(situation, grid=replace(grid, pot_c=pot))


def _foods(prior: Belief, case: FoodCase, rng: np.random.Generator, *, pot_read: bool) -> Floats:
    if not pot_read:
        prior = prior.widened(np.append(np.zeros(5), BLIND_DRIVE_SD))
    if not np.isfinite(case.core_c).any():
        return prior.draw(MEMBERS, rng)
    return posterior(prior, food_misses(case), rng, MEMBERS, ROUNDS)[1]


def _kettles(
    log: CookLog, knowledge: Knowledge, balance: CookerCase, rng: np.random.Generator
) -> Floats:
    prior = cooker_belief(knowledge, log.cooker)
    if balance.use.sum() < 1:
        return prior.draw(MEMBERS, rng)
    members = posterior(prior, cooker_misses(balance), rng, MEMBERS, ROUNDS)[1]
    return members[rng.permutation(MEMBERS)]  # any cooker may meet any food


def _daylight_left(log: CookLog, now_s: float) -> tuple[Floats, Floats, light.ClearSky]:
    """Steps until the sun is lost [s], the times of their middles, and the clear sky then."""
    steps = futures.time_steps(LONGEST_S)
    times = now_s + np.cumsum(steps) - steps / 2
    clear = light.clear_sky(log.tables, log.place.horizon, times)
    night = np.flatnonzero(clear.elevation_deg < 0)
    today = int(night[0]) if len(night) else len(steps)
    up = np.flatnonzero(clear.up[:today] > 0)
    left = slice(0, int(up[-1]) + 1 if len(up) else 0)
    return steps[left], times[left], clear.part(left)


def _sky_belief(index: Floats, rng: np.random.Generator) -> sky.SkyBelief:
    top = TOP_INDEX + TOP_SD * rng.standard_normal(MEMBERS)
    recent = index[:, -RECENT_BLOCKS:]
    told = np.isfinite(recent).all(axis=0)
    if told.sum() >= 3:
        best = np.quantile(recent[:, told], 0.9, axis=1)
        top = np.where(best > 0.95, best + 0.01 * rng.standard_normal(MEMBERS), top)
    belief = sky.start(top, PROCESS)
    for j in range(index.shape[1]):
        belief = sky.observe(belief, index[:, j], INDEX_SD, BLOCK_S, PROCESS)
    return belief


def _misaims(
    log: CookLog,
    knowledge: Knowledge,
    now_s: float,
    ends_s: Floats,
    times_s: Floats,
    ahead: light.ClearSky,
    rng: np.random.Generator,
) -> Floats:
    aims = log.aims_until(now_s)
    if not aims or len(ends_s) == 0:
        return np.zeros((MEMBERS, len(ends_s)))
    left_alone = light.misaim(aims[-1:], times_s, ahead)
    habit = knowledge.habit.after([at for at, _, _ in aims])
    since_s = now_s - aims[-1][0]
    return futures.future_misaim(left_alone, ahead, ends_s, since_s, habit, MEMBERS, rng)


def _now(pot_c: Floats) -> float:
    """The pot at the end of the last bin, its noise smoothed [°C]."""
    if len(pot_c) < 3:
        return float(pot_c[-1])
    return float(pot_c[-2:].mean() + (pot_c[-1] - pot_c[-3]) / 4)


def _walls(balance: CookerCase, kettle: cooker.Cooker, pot_c: Floats) -> Floats:
    if len(balance.pot_c) == 0:
        return np.full(MEMBERS, pot_c[0])
    return cooker.wall_behind(balance.pot_c, kettle.wall_time, BLOCK_S)[:, -1]


def _push(balance: CookerCase, kettle: cooker.Cooker, index: Floats) -> Floats:
    """What the heat balance of the last half hour missed, half of it believed [K/s]."""
    recent = np.isfinite(index).all(axis=0) & (balance.use > 0)
    recent[:-3] = False
    if not recent.any():
        return np.zeros(MEMBERS)
    miss = balance.rest(kettle) - balance.given_each(kettle, np.nan_to_num(index))
    return np.asarray(0.5 * miss[:, recent].mean(axis=1) / BLOCK_S)


def _corrected(stages: Floats, cores: Floats, case: FoodCase) -> tuple[Floats, Floats]:
    """Members set onto the measured core, and the logarithm of how much faster than theirs it
    lately rose: food that dries, swells or stops to stir itself changes its pace on the way.
    """
    bins = int(SLOPE_S / BIN_S)
    settled = np.arange(len(case.core_c)) * BIN_S >= SETTLING_S
    said, seen = middles(cores, case.start_c)[:, -bins:], case.core_c[-bins:]
    good = np.isfinite(seen) & settled[-bins:]
    if not good.any():
        return stages, np.zeros(len(cores))
    last = (seen - said)[:, good][:, -2:].mean(axis=1)
    stages = np.minimum(stages + PULL * last, case.boiling_c)
    if good.sum() < ENOUGH_BINS:
        return stages, np.zeros(len(cores))
    time = np.flatnonzero(good) * BIN_S
    time = time - time.mean()
    rises = np.array([*said[:, good], seen[good]]) @ time / float(time @ time)
    rises = np.maximum(rises, 0.0) + SLOW_K_S
    return stages, np.clip(PACE_TRUST * np.log(rises[-1] / rises[:-1]), -1.0, 1.0)
