"""From what was seen of a cook to the times at which its futures end."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, futures, light, load, sky
from noonpot.core.belief import posterior
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.estimation import (
    BLOCK,
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
from noonpot.core.policy import HOT_PROBE_S
from noonpot.core.readings import Role
from noonpot.core.trace import BIN_S

Floats = NDArray[np.float64]

MEMBERS = 200
ROUNDS = 3
PROCESS = sky.SkyProcess()
TOP_INDEX, TOP_SD = 1.04, 0.05
"""Index of a clear sky: what the tables of turbidity leave open."""
RECENT_BLOCKS = 18
SEEN_SD, INFERRED_SD = 0.03, 0.07
"""How well an index is known that was measured, and one that the pot told."""
LONGEST_S = 18 * 3600.0
SLOPE_S = 1200.0
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
class Outlook:
    """Seconds from now until each future reaches the target, infinite where it does not, shape
    (n,); and what is seen of sky and aim.
    """

    target_c: float
    reached_s: Floats
    clear_sky_index: float | None
    misaim_deg: float | None
    reasons: tuple[str, ...] = ()


def look_ahead(log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation) -> Outlook:
    """March some hundred futures of this load until the sun is lost.

    The random numbers depend on the time alone, so that the same cook gives the same answer.
    """
    target, now_s = loaded.target_c, situation.grid.now_s
    if not situation.grid.pot_read.all():
        situation = _with_pot(log, knowledge, loaded, situation)
    rng = np.random.default_rng(int(now_s) % 2**32)
    angle = float(situation.misaim_deg[-1]) if log.aims_until(now_s) else None
    done_s = _done_s(log, loaded, now_s)
    if done_s is not None:
        seen = light.index_of(situation.grid.ghi, situation.sky)[-BLOCK:]
        shown = float(np.nanmean(seen)) if np.isfinite(seen).any() else None
        return Outlook(target, np.array([done_s - now_s]), shown, angle)
    case, rows = log.food_case(situation, loaded)
    food = _foods(knowledge, loaded, case, bool(situation.grid.pot_read[rows].all()), rng)
    warmed = run_food(case, food)
    flow = np.zeros(len(situation.grid.times_s))
    heat = load.heat_j_per_k(loaded.mass_kg, loaded.wet)
    flow[rows] = warmed[2].mean(axis=1) * heat / BIN_S
    balance = log.cooker_case(situation, flow, [loaded])
    kettles = _kettles(log, knowledge, balance, rng)
    index = inferred_index(balance, kettles)
    shown = float(np.nanmedian(index[:, -1])) if np.isfinite(index[:, -1:]).any() else None
    reasons = _reasons(loaded, case, situation, shown, angle)

    steps, times, ahead = _daylight_left(log, now_s)
    if len(steps) == 0:
        return Outlook(target, np.full(MEMBERS, np.inf), shown, angle, reasons)
    kettle = cooker.Cooker.of(kettles + KETTLE_DOUBT * rng.standard_normal(kettles.shape))
    food = food + FOOD_DOUBT * rng.standard_normal(food.shape)
    skies = sky.futures(_sky_belief(balance, index, rng), steps, rng, PROCESS)
    miss = _misaims(log, knowledge, now_s, np.cumsum(steps), times, ahead, rng)
    useful = light.on_aperture(
        skies, ahead, miss, kettle.acceptance[:, None], kettle.diffuse[:, None]
    )
    stages, bend = _corrected(warmed[0], warmed[1], case)
    begin = futures.Start(
        kettle=kettle,
        food=load.FoodConstants.of(food),
        stages=stages,
        pot_c=np.full(MEMBERS, _now(situation.grid.pot_c)),
        wall_c=_walls(balance, kettle, situation.grid.pot_c),
        push=_push(balance, kettle, index),
        bend=bend,
        load_share=heat / kettle.capacity,
    )
    air = float(situation.grid.ambient_c[-10:].mean())
    reached_s, _ = futures.run(begin, useful, steps, air, log.boiling_c, target)
    return Outlook(target, reached_s, shown, angle, reasons)


def _done_s(log: CookLog, loaded: Loaded, now_s: float) -> float | None:
    """When the core was first read at its target [Unix s], None while it was not.

    A probe that hung in the hot pot and went into cold food shows the pot for a while: what began
    above the target counts only when it stays there.
    """
    times, values = log.trace.between(Role.CORE, loaded.at_s + SETTLING_S, now_s)
    over = values >= loaded.target_c
    if len(over) and over[0] and not (over.all() and times[-1] - times[0] >= HOT_PROBE_S):
        over = over & (np.cumsum(~over) > 0)
    reached = np.flatnonzero(over)
    return float(times[reached[0]]) if len(reached) else None


def _with_pot(
    log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation
) -> Situation:
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


def _foods(
    knowledge: Knowledge, loaded: Loaded, case: FoodCase, pot_read: bool, rng: np.random.Generator
) -> Floats:
    prior = food_belief(knowledge, loaded)
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


def _sky_belief(balance: CookerCase, index: Floats, rng: np.random.Generator) -> sky.SkyBelief:
    top = TOP_INDEX + TOP_SD * rng.standard_normal(MEMBERS)
    recent = index[:, -RECENT_BLOCKS:]
    told = np.isfinite(recent).all(axis=0)
    if told.sum() >= 3:
        best = np.quantile(recent[:, told], 0.9, axis=1)
        top = np.where(best > 0.95, best + 0.01 * rng.standard_normal(MEMBERS), top)
    belief = sky.start(top, PROCESS)
    for j in range(index.shape[1]):
        sd = SEEN_SD if np.isfinite(balance.index[j]) else INFERRED_SD
        belief = sky.observe(belief, index[:, j], sd, BLOCK_S, PROCESS)
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
    if not aims:
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
    """Members set onto the measured core, and how much faster than theirs it lately rose [K/s]."""
    bins = int(SLOPE_S / BIN_S)
    settled = np.arange(len(case.core_c)) * BIN_S >= SETTLING_S
    off = (case.core_c - middles(cores, case.start_c))[:, -bins:]
    good = np.isfinite(off[0]) & settled[-bins:]
    bend = np.zeros(len(cores))
    if not good.any():
        return stages, bend
    if good.sum() >= 5:
        t = np.flatnonzero(good) * BIN_S
        t = t - t.mean()
        bend = 0.5 * (off[:, good] @ t) / float(t @ t)
    last = off[:, good][:, -2:].mean(axis=1)
    return np.minimum(stages + PULL * last, case.boiling_c), bend


def _reasons(
    loaded: Loaded,
    case: FoodCase,
    situation: Situation,
    index: float | None,
    angle: float | None,
) -> tuple[str, ...]:
    reasons = [loaded.words] if loaded.words else []
    if not np.isfinite(case.core_c).any():
        reasons.append("the core is an estimate: no probe is in the food")
    if not situation.grid.pot_read[-1]:
        reasons.append("the pot is an estimate: its probe tells nothing")
    if index is not None and index < 0.9:
        kind = "thin or broken cloud" if index > 0.5 else "thick cloud"
        reasons.append(f"{kind}: the sky gives {index:.0%} of a clear one")
    if angle is not None and angle > 15.0:
        reasons.append(f"the cooker points {angle:.0f}° beside the sun")
    return tuple(reasons)
