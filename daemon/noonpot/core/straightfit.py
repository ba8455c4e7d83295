"""The likeliest constants of a model and how sure they are, where the data are many.

Steps of Gauss and Newton with slopes by small differences, from several starts; the spread is that
of the straight fit at the end. ``core.belief`` does the same with few data, roughly and widely.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from noonpot.core.belief import FARTHEST, Belief, penalty

Floats = NDArray[np.float64]

STEPS = 25
NUDGE = 0.02
"""How far a constant is moved to feel its slope, in standard deviations of the prior."""
DAMPING, DAMPED = 1e-3, 10.0
NARROW = 1e-6


def straight_fit(prior: Belief, misses: Callable[[Floats], Floats], starts: Floats) -> Belief:
    """The belief after the data.

    ``misses`` takes members (s, k) and returns what each misses in standard deviations (s, m).
    ``starts`` are members (s, k) from which the best is sought.
    """
    root = prior.root()

    def lost(z: Floats) -> Floats:
        missed = misses(prior.mean + z @ root.T)
        return np.asarray(penalty(missed).sum(axis=1) + 0.5 * np.sum(z**2, axis=1))

    begins = np.asarray(np.linalg.solve(root, (starts - prior.mean).T).T, np.float64)
    begins = begins[np.argsort(lost(begins))[:3]]  # the most promising of many
    ends = [_descended(z, prior, misses, lost) for z in begins]
    best = min(ends, key=lambda z: float(lost(z[None, :])[0]))
    _, curve = _slopes(best, prior, misses)
    spread = np.linalg.inv(curve)
    return Belief(prior.mean + root @ best, root @ spread @ root.T)


def _descended(
    z: Floats,
    prior: Belief,
    misses: Callable[[Floats], Floats],
    lost: Callable[[Floats], Floats],
) -> Floats:
    """Downhill from one start; a step that leads uphill is taken shorter (Marquardt)."""
    damping, here = DAMPING, float(lost(z[None, :])[0])
    for _ in range(STEPS):
        slope, curve = _slopes(z, prior, misses)
        damped = curve + damping * np.diag(np.diag(curve))
        tried = np.clip(z - np.linalg.solve(damped, slope), -FARTHEST, FARTHEST)
        there = float(lost(tried[None, :])[0])
        if there < here:
            near = here - there < NARROW * max(here, 1.0)
            z, here, damping = tried, there, damping / DAMPED
            if near:
                break
        else:
            damping *= DAMPED
    return z


def _slopes(z: Floats, prior: Belief, misses: Callable[[Floats], Floats]) -> tuple[Floats, Floats]:
    """Gradient (k,) and curvature (k, k) of all that is lost, prior included."""
    size = len(z)
    moved = np.vstack([z, z + NUDGE * np.eye(size), z - NUDGE * np.eye(size)])
    missed = misses(prior.mean + moved @ prior.root().T)
    here, up, down = missed[0], missed[1 : size + 1], missed[size + 1 :]
    slopes = (up - down) / (2 * NUDGE)
    weight = 1 / np.sqrt(1 + here**2 / 4)  # far misses pull less
    return (slopes * weight) @ here + z, (slopes * weight) @ slopes.T + np.eye(size)
