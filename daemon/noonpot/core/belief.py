"""What is believed about a few constants: a normal distribution, and how data narrow it.

One tool serves cooker and food. Where the misses of a model stand on a set of members, a straight
fit through them tells the way to the best constants (Gauss-Newton, the slopes taken from an
ensemble that shrinks round by round). Members are drawn from the result and judged once more by
what they really miss, so that a crooked posterior is met too.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SCOUTS = 48
"""Members that feel the slopes in every round."""
LONGEST_STRIDE = 1.5
"""How far one round may move a constant, in standard deviations of the prior."""
FARTHEST = 4.0
"""Nothing is tried farther from the prior mean than this, in its standard deviations."""
WIDEN = 1.2
"""The last members are drawn a little wider than the straight fit says."""


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """A normal distribution: ``mean`` of shape (k,), ``cov`` of shape (k, k)."""

    mean: Floats
    cov: Floats

    @classmethod
    def of(cls, mean: Floats, sd: Floats) -> "Belief":
        """Independent constants."""
        return cls(np.asarray(mean, float), np.diag(np.asarray(sd, float) ** 2))

    def widened(self, sd: Floats) -> "Belief":
        """The same with independent doubt added, for another day or another loaf."""
        return Belief(self.mean, self.cov + np.diag(sd**2))

    def draw(self, n: int, rng: np.random.Generator) -> Floats:
        """Random members, shape (n, k), in pairs that mirror each other."""
        return self.mean + _mirrored(n, len(self.mean), rng) @ self.root().T

    def root(self) -> Floats:
        """Lower triangle whose square is the covariance, shape (k, k)."""
        size = len(self.mean)
        return np.asarray(np.linalg.cholesky(self.cov + 1e-9 * np.eye(size)))


def penalty(miss: Floats) -> Floats:
    """Half the square of a miss in standard deviations, growing straight on beyond two (Huber).

    >>> round(float(penalty(np.array(0.1))), 4)
    0.005
    """
    return np.asarray(4 * (np.sqrt(1 + miss**2 / 4) - 1))


def posterior(
    prior: Belief,
    misses: Callable[[Floats], Floats],
    rng: np.random.Generator,
    n: int,
    rounds: int,
) -> tuple[Belief, Floats]:
    """The belief after the data, and n equally likely members of it, shape (n, k).

    ``misses`` takes members of shape (s, k) and returns what each misses in standard deviations,
    shape (s, m), the weight of a datum being in it.
    """
    size, root = len(prior.mean), prior.root()
    centre, spread = np.zeros(size), np.eye(size)  # in standard deviations of the prior
    for _ in range(rounds):
        z = _sane(centre + _mirrored(SCOUTS, size, rng) @ np.linalg.cholesky(spread).T)
        missed = np.nan_to_num(misses(prior.mean + z @ root.T), posinf=50.0, neginf=-50.0)
        middle, off = z.mean(axis=0), z - z.mean(axis=0)
        here = missed.mean(axis=0)
        slopes = np.linalg.solve(off.T @ off + 1e-6 * np.eye(size), off.T @ (missed - here))
        weight = 1 / np.sqrt(1 + here**2 / 4)
        curve = np.eye(size) + (slopes * weight) @ slopes.T
        stride = -np.linalg.solve(curve, (slopes * weight) @ here + middle)
        centre = middle + stride * min(1.0, LONGEST_STRIDE / float(np.abs(stride).max() + 1e-9))
        spread = np.linalg.inv(curve)
        spread = (spread + spread.T) / 2
    step = WIDEN * np.linalg.cholesky(spread)
    normal = _mirrored(n, size, rng)
    z = _sane(centre + normal @ step.T)
    members = prior.mean + z @ root.T
    lost = penalty(np.nan_to_num(misses(members), nan=50.0)).sum(axis=1)
    log_weight = -lost - 0.5 * np.sum(z**2, axis=1) + 0.5 * np.sum(normal**2, axis=1)
    weights = _tempered(log_weight)
    spots = (np.arange(n) + rng.random()) / n
    rows = np.minimum(np.searchsorted(np.cumsum(weights), spots), n - 1)
    mean = weights @ members
    off = members - mean
    cov = (weights[:, None] * off).T @ off
    # never narrower than a fifth of the straight fit: few members must not feign certainty
    return Belief(mean, cov + 0.2 * root @ spread @ root.T), members[rows]


def _sane(z: Floats) -> Floats:
    return np.clip(z, -FARTHEST, FARTHEST)


def _mirrored(n: int, size: int, rng: np.random.Generator) -> Floats:
    half = rng.standard_normal(((n + 1) // 2, size))
    return np.concatenate([half, -half])[:n]


def _tempered(log_weight: Floats) -> Floats:
    """Weights that sum to 1, flattened until at least a sixth of the members have a say."""
    heat = 1.0
    while True:
        weights = np.exp(heat * (log_weight - log_weight.max()))
        weights = weights / weights.sum()
        if 1 / np.sum(weights**2) >= len(log_weight) / 6 or heat < 1e-3:
            return np.asarray(weights)
        heat *= 0.7
