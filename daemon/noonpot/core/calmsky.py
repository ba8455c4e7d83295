"""Which blocks of a cook look clear, as a belief about the cooker understands them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core.belief import Belief
from noonpot.core.estimation import CLEAR_INDEX, CookerCase, inferred_index

Floats = NDArray[np.float64]

CALM_BLOCKS, CALM_INDEX = 4, 0.10
"""Calm: so many blocks of ten minutes in which the index moves no further than this."""
NEAR_BRIGHTEST = 0.86
BRIGHTEST = 0.9
"""The brightest calm hours are told by this quantile of all calm blocks."""
LEAST_INDEX = 0.6


def clear_hours(cases: Sequence[CookerCase], belief: Belief) -> list[CookerCase]:
    """The balances with their clear hours alone, as this belief understands them."""
    values = belief.mean[None, :]
    indices = [inferred_index(case, values)[0] for case in cases]
    calm = [calm_blocks(index) for index in indices]
    levels = np.concatenate([index[still] for index, still in zip(indices, calm, strict=True)])
    if len(levels) == 0:
        return [replace(case, use=np.zeros_like(case.use)) for case in cases]
    least = NEAR_BRIGHTEST * float(np.quantile(levels, BRIGHTEST))
    chosen = []
    for case, index, still in zip(cases, indices, calm, strict=True):
        seen = np.isfinite(case.index)
        clear = still & (index >= max(least, LEAST_INDEX))
        chosen.append(
            replace(
                case,
                index=np.where(seen, case.index, np.where(clear, CLEAR_INDEX, np.nan)),
                use=case.use * (seen | clear),
            )
        )
    return chosen


def calm_blocks(index: Floats) -> NDArray[np.bool_]:
    """The blocks that lie in a calm stretch, shape (m,) in and out.

    >>> calm_blocks(np.array([1.0, 1.0, 0.98, 1.01, 0.5, 0.9, 0.4]))
    array([ True,  True,  True,  True, False, False, False])
    """
    calm = np.zeros(len(index), bool)
    for first in range(len(index) - CALM_BLOCKS + 1):
        part = index[first : first + CALM_BLOCKS]
        if np.isfinite(part).all() and np.ptp(part) <= CALM_INDEX:
            calm[first : first + CALM_BLOCKS] = True
    return calm
