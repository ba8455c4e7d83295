"""The clear-sky index as a stochastic process: weather of the day, its hours, single clouds.

Three mean-reverting (Ornstein-Uhlenbeck) parts, of a day, of hours and of minutes, add up to a
clearness without bounds, which an S-curve squashes between overcast and clear. Near both ends the
curve is flat, so a sky that is well clear or well overcast comes out calm and lasts, and one in
between comes out broken.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

OVERCAST = 0.12
"""Index under the thickest cloud."""
FLAT = 0.04
"""The ends of the S-curve are cut off by so much: a sky can be quite clear, and quite overcast."""
EDGE = 0.015
"""The S-curve is read back only to here from its ends."""


@dataclass(frozen=True, slots=True)
class SkyProcess:
    """How skies change: time constants [s] and standard deviations of the three parts, in the units
    of the unbounded clearness. Set on the stations Payerne (1 to 15 June 2016), Tucson, Alamosa.
    """

    mean: float = 1.9
    times_s: tuple[float, float, float] = (14 * 3600.0, 2.5 * 3600.0, 1100.0)
    sds: tuple[float, float, float] = (3.4, 0.45, 0.45)

    def keep(self, step_s: float) -> Floats:
        """What is left of each part after a step, shape (3,)."""
        return np.asarray(np.exp(-step_s / np.array(self.times_s)))


@dataclass(frozen=True, slots=True, eq=False)
class SkyBelief:
    """What is believed about the sky now by each of n members.

    ``parts`` (n, 3) and ``cov`` (n, 3, 3): mean and covariance of the three parts; ``top`` (n,):
    each member's index of a clear sky, the turbidity of the day.
    """

    parts: Floats
    cov: Floats
    top: Floats


def squash(clearness: Floats, top: Floats) -> Floats:
    """Clear-sky index of the unbounded clearness.

    >>> float(squash(np.array(50.0), np.array(1.05)))
    1.05
    """
    share = np.clip((1 + 2 * FLAT) / (1 + np.exp(-clearness)) - FLAT, 0.0, 1.0)
    return OVERCAST + (top - OVERCAST) * share


def start(top: Floats, process: SkyProcess) -> SkyBelief:
    """The belief before anything was seen; ``top`` has shape (n,)."""
    n = len(top)
    return SkyBelief(np.zeros((n, 3)), np.tile(np.diag(np.square(process.sds)), (n, 1, 1)), top)


def observe(
    belief: SkyBelief, index: Floats, sd: float, step_s: float, process: SkyProcess
) -> SkyBelief:
    """The belief one step later, after a clear-sky index was seen (shape (n,), NaN: not seen).

    An extended Kalman filter, each member for itself. Where the curve is flat the index tells
    little about the clearness, which is what its slope does here.
    """
    keep, variance = process.keep(step_s), np.square(process.sds)
    parts = belief.parts * keep
    cov = belief.cov * np.outer(keep, keep) + np.diag(variance * (1 - keep**2))
    seen = np.isfinite(index)
    share = (np.where(seen, index, 0.5) - OVERCAST) / (belief.top - OVERCAST)
    share = np.clip(share, EDGE, 1 - EDGE)
    clearness = np.log(share / (1 - share))
    slope = (belief.top - OVERCAST) * share * (1 - share)
    noise = np.where(seen, (sd / slope) ** 2 + 0.05, 1e9)
    toward = cov.sum(axis=2)
    gain = toward / (toward.sum(axis=1) + noise)[:, None]
    miss = clearness - process.mean - parts.sum(axis=1)
    return SkyBelief(
        parts + gain * miss[:, None], cov - gain[:, :, None] * toward[:, None, :], belief.top
    )


def futures(
    belief: SkyBelief, steps_s: Floats, rng: np.random.Generator, process: SkyProcess
) -> Floats:
    """One future of the clear-sky index for each member, shape (n, len(steps_s)).

    ``steps_s`` are the lengths of the steps [s]; a value stands for the end of its step.
    """
    return squash(wander(belief, steps_s, rng, process) + process.mean, belief.top[:, None])


def wander(
    belief: SkyBelief, steps_s: Floats, rng: np.random.Generator, process: SkyProcess
) -> Floats:
    """How far the clearness of each member departs from its mean, shape (n, len(steps_s))."""
    n, steps = len(belief.top), len(steps_s)
    root = np.linalg.cholesky(belief.cov + 1e-6 * np.eye(3))
    parts = belief.parts + np.einsum("nij,nj->ni", root, rng.standard_normal((n, 3)))
    push = rng.standard_normal((steps, n, 3))
    clearness = np.empty((steps, n))
    for i in range(steps):
        keep = process.keep(float(steps_s[i]))
        parts = parts * keep + push[i] * (np.array(process.sds) * np.sqrt(1 - keep**2))
        clearness[i] = parts.sum(axis=1)
    return np.asarray(clearness.T)
