"""The light of a stretch of time on a cooker, and the search for the aim that is worth the most."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core import futures, light
from noonpot.core.sun import angle_between

Floats = NDArray[np.float64]
Worth = Callable[[Floats], Floats]

TURN_S = 1800.0
"""Whoever stays with the cooker turns it so often."""
STARTS = 24
WIDE_DEG, FINE_DEG = 8.0, 0.1
"""The first and the last step of a search."""
STEEPEST = 0.05
"""Near the zenith no smaller cosine is divided by: all bearings are neighbours there."""


@dataclass(frozen=True, slots=True, eq=False)
class Exposure:
    """The light of n steps, as m equally likely futures bring it.

    ``times_s`` are the middles [Unix s] and ``steps_s`` the lengths [s] of the steps, ``clear`` the
    clear sky in them; ``skies`` the clear-sky indices, shape (m, n); ``acceptance`` [degrees] and
    ``diffuse`` [-] those of the cooker, shape (m, 1).
    """

    times_s: Floats
    steps_s: Floats
    clear: light.ClearSky
    skies: Floats
    acceptance: Floats
    diffuse: Floats

    def misaims(self, aims: Floats) -> Floats:
        """Angle between sun and each aim, rows of azimuth and elevation [degrees], shape (k, n)."""
        sun = (self.clear.azimuth_deg, self.clear.elevation_deg)
        return np.array([angle_between(azimuth, elevation, *sun) for azimuth, elevation in aims])

    def gathered(self, misaims: Floats) -> Floats:
        """Useful light on the aperture in each step, in the mean of the futures [J/m²], for misaims
        of shape (k, n).
        """
        misaims = misaims[:, None, :]
        useful = light.on_aperture(self.skies, self.clear, misaims, self.acceptance, self.diffuse)
        return np.asarray(useful.mean(axis=1) * self.steps_s)

    def worth(self, aims: Floats) -> Floats:
        """What each aim gathers [J/m²], shape (k,)."""
        return np.asarray(self.gathered(self.misaims(aims)).sum(axis=1))

    def turned(self, left: Floats) -> Floats:
        """Misaim of a cooker that is turned every half hour, each time to where the sun will be in
        the middle of it, or else left as it is in ``left`` where that gathers more; shape (n,).
        """
        since_s = self.times_s[0] - self.steps_s[0] / 2
        piece = ((self.times_s - since_s) // TURN_S).astype(np.intp)
        first, last = np.searchsorted(piece, piece), np.searchsorted(piece, piece, side="right")
        middle = (first + last - 1) // 2
        angles = futures.between_suns(self.clear)[middle, np.arange(len(middle))]
        more = np.diff(self.gathered(np.array([left, angles])), axis=0)[0]
        return np.where(np.bincount(piece, more)[piece] > 0, angles, left)

    def best(self) -> Floats:
        """The aim that gathers the most, as azimuth and elevation [degrees]."""
        return climb(self.worth, self.starts(), FINE_DEG)

    def starts(self) -> Floats:
        """Where a search begins: places of the sun, from the first to the last; shape (k, 2)."""
        rows = np.unique(np.linspace(0, len(self.times_s) - 1, STARTS).astype(np.intp))
        elevation = np.maximum(self.clear.elevation_deg[rows], 0.0)
        return np.column_stack([self.clear.azimuth_deg[rows], elevation])


def climb(worth: Worth, starts: Floats, finest_deg: float) -> Floats:
    """The aim of the greatest worth, from the best of the ``starts`` uphill in ever smaller steps.

    ``worth`` tells it for aims as rows of azimuth and elevation [degrees].
    """
    values = worth(starts)
    best, value = starts[values.argmax()], values.max()
    reach = WIDE_DEG
    while reach >= finest_deg:
        around = neighbours(best, reach)
        values = worth(around)
        if values.max() > value * (1 + 1e-9):
            best, value = around[values.argmax()], values.max()
        else:
            reach /= 2
    return np.asarray(best)


def neighbours(aim: Floats, reach_deg: float) -> Floats:
    """The eight aims around one, over the zenith if need be, never below the horizon; (8, 2)."""
    moves = np.array([(a, e) for a in (-1, 0, 1) for e in (-1, 0, 1) if (a, e) != (0, 0)])
    level = max(float(np.cos(np.radians(aim[1]))), STEEPEST)
    azimuth, elevation = (aim + reach_deg * moves / [level, 1.0]).T
    over = elevation > 90
    azimuth = np.where(over, azimuth + 180, azimuth) % 360
    elevation = np.maximum(np.where(over, 180 - elevation, elevation), 0.0)
    return np.column_stack([azimuth, elevation])
