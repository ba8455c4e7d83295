"""The heat balance of a whole cook in blocks of ten minutes, with what flowed into its loads.

Each load is judged by itself, by how its core followed the pot. So a cook can be weighed without
any other, and many cooks together without one leaning on the next.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import light, load
from noonpot.core.belief import Belief, posterior
from noonpot.core.cooklog import CookLog, Loaded
from noonpot.core.estimation import (
    BLOCK,
    CookerCase,
    FoodCase,
    cooker_misses,
    food_misses,
    run_food,
)
from noonpot.core.evidence import Evidence
from noonpot.core.learning import Knowledge, food_belief
from noonpot.core.straightfit import straight_fit
from noonpot.core.tenminutes import WATER_J_KGK, is_water
from noonpot.core.trace import BIN_S

Floats = NDArray[np.float64]

MEMBERS, ROUNDS = 160, 5
STARTS = 80
ENOUGH_CORES = 10
STEAMING_K = 22.0
"""So near to boiling, steam takes a tenth of the heat and more; other lids, other shares (our
choice)."""


def balance_of(log: CookLog, seed: int = 0) -> CookerCase | None:
    """The balance of a cook, None for one without a reading.

    Blocks in which a load came near boiling are not used: there steam takes heat that no probe
    sees, as much as the load itself took before.
    """
    span = log.trace.span()
    situation = log.situation(span[1]) if span else None
    if situation is None:
        return None
    rng = np.random.default_rng(seed)
    flow_w, steaming = np.zeros((2, len(situation.grid.times_s)))
    for loaded in log.loads:
        case, rows = log.food_case(situation, loaded)
        cores, rise_k = _warmed(case, loaded, rng)
        flow_w[rows] = rise_k * heat_j_per_k(loaded) / BIN_S
        steaming[rows] = cores > case.boiling_c - STEAMING_K
    found = log.cooker_case(situation, flow_w, log.loads)
    return replace(found, use=found.use * (light.block_means(steaming, BLOCK) == 0))


def _warmed(case: FoodCase, loaded: Loaded, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """The core [°C] and the heat that the load took in, over its heat capacity [K], in each bin,
    shape (n,). Wet food is as warm as its core; of dense food a model tells what the core does not.
    """
    read = np.flatnonzero(np.isfinite(case.core_c))
    if len(read) >= ENOUGH_CORES and (loaded.wet or is_water(loaded.food)):
        bins = np.arange(len(case.core_c))
        cores = np.interp(bins, read, case.core_c[read])
        smooth = np.convolve(np.pad(cores, 2, mode="edge"), np.ones(5) / 5, mode="valid")
        return cores, np.gradient(smooth) if len(smooth) > 1 else np.zeros(len(cores))
    food = food_belief(Knowledge(), loaded)
    if len(read) >= ENOUGH_CORES:
        food, _ = posterior(food, food_misses(case, even=True), rng, MEMBERS, ROUNDS)
    _, reckoned, taken = run_food(case, food.mean[None, :])
    return reckoned[0], taken[:, 0]


def heat_j_per_k(loaded: Loaded) -> float:
    """Heat capacity of a load [J/K]; that of plain water is known exactly."""
    if is_water(loaded.food):
        return loaded.mass_kg * WATER_J_KGK
    return load.heat_j_per_k(loaded.mass_kg, loaded.wet)


def fitted(prior: Belief, cases: Sequence[CookerCase], seed: int = 0) -> Belief:
    """What all these balances together tell of a cooker."""
    each = [cooker_misses(case) for case in cases]

    def misses(values: Floats) -> Floats:
        return np.concatenate([miss(values) for miss in each], axis=1)

    starts = prior.draw(STARTS, np.random.default_rng(seed))
    return straight_fit(prior, misses, np.vstack([prior.mean, starts]))


def with_sky(cook: Evidence, case: CookerCase) -> Evidence:
    """A cook with its sky as its balance has it, for hours that no sensor saw."""
    return cook.understood(case.index)
