"""Which hours were clear, where no sensor saw the sky: these say how strong a cooker is.

A weak cooker under a clear sky and a strong one under thin cloud look alike. But a clear sky is
calm, and over many cooks the brightest calm hours are clear ones. These are taken for clear; of all
others the sky stays unknown.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker
from noonpot.core.balance import fitted
from noonpot.core.belief import Belief, penalty
from noonpot.core.calmsky import clear_hours
from noonpot.core.estimation import CookerCase, cooker_misses

Floats = NDArray[np.float64]

ENOUGH = 12
UNKNOWN_COSTS = 0.5
"""What a block of unknown sky costs beside a miss of one standard deviation (our choice)."""
ROUNDS = 3
"""The fit and the choice of hours are repeated so often; they settle in two or three rounds."""


def fitted_by_clear_hours(
    prior: Belief, cases: Sequence[CookerCase], seed: int = 0
) -> tuple[Belief, list[CookerCase]]:
    """What balances tell of a cooker; and the same balances, with the index of a clear sky in those
    clear hours that no sensor saw.

    Clear hours are sought by themselves first; when they are found, all hours count. With fewer
    than ``ENOUGH`` clear blocks none is taken for clear.
    """
    belief = fitted(prior, cases, seed)
    if all(np.isfinite(case.index[case.use > 0]).all() for case in cases):
        return belief, list(cases)
    usual = fitted(_narrowed(prior), cases, seed)
    ways = [_settled(prior, cases, start, seed) for start in (belief, usual, prior)]
    good = [way for way in ways if way.blocks >= ENOUGH]
    if not good:
        return belief, list(cases)
    chosen = min(good, key=lambda way: way.cost).chosen
    used = [replace(c, index=x.index) for c, x in zip(cases, chosen, strict=True)]
    return fitted(prior, used, seed), used


def _narrowed(prior: Belief) -> Belief:
    """The same for a cooker that holds as much heat as most."""
    scale = np.where(np.array(cooker.NAMES) == "capacity", 0.2, 1.0)
    return Belief(prior.mean, prior.cov * np.outer(scale, scale))


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """One way to understand the skies of all cooks. A strong cooker under skies that dim whenever
    food goes in, and a weak one under clear skies, may explain the same; the way with more clear
    hours is taken, for ``cost`` counts hours of unknown sky.
    """

    chosen: list[CookerCase]
    blocks: float
    cost: float


def _settled(prior: Belief, cases: Sequence[CookerCase], start: Belief, seed: int) -> _Way:
    belief, chosen, blocks = start, list(cases), 0.0
    for _ in range(ROUNDS):
        chosen = clear_hours(cases, belief)
        blocks = float(sum(case.use.sum() for case in chosen))
        if blocks < ENOUGH:
            break
        belief = fitted(prior, chosen, seed)
    unknown = float(sum(case.use.sum() for case in cases)) - blocks
    missed = [cooker_misses(case)(belief.mean[None, :]) for case in chosen]
    off = np.linalg.solve(prior.root(), belief.mean - prior.mean)
    lost = float(sum(penalty(miss).sum() for miss in missed)) + 0.5 * float(off @ off)
    return _Way(chosen, blocks, lost + UNKNOWN_COSTS * unknown)
