"""A straight line through points by least squares, and how sure it is of a value on it."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

T95 = (
    *(12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060, 2.2622, 2.2281),
    *(2.2010, 2.1788, 2.1604, 2.1448, 2.1314, 2.1199, 2.1098, 2.1009, 2.0930, 2.0860),
    *(2.0796, 2.0739, 2.0687, 2.0639, 2.0595, 2.0555, 2.0518, 2.0484, 2.0452, 2.0423),
)
"""Student's t of a two-sided interval of 95 %, for 1 to 30 degrees of freedom (W. S. Gosset, 1908;
any table of statistics)."""
NORMAL95 = 1.959964


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with the interval that holds it with 95 %."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Line:
    """y = ``intercept`` + ``slope`` x through n points. ``sd`` is the scatter about it; ``mean_x``
    and ``spread_x``, the sum of squares about it, tell where the points lie; ``r2`` is the share of
    the scatter of y that the line explains [-].
    """

    intercept: float
    slope: float
    r2: float
    n: int
    sd: float
    mean_x: float
    spread_x: float

    def at(self, x: float) -> Estimate:
        """The value of the line at x, with the interval of 95 % for the line, not for one point."""
        value = self.intercept + self.slope * x
        doubt = self.sd * math.sqrt(1 / self.n + (x - self.mean_x) ** 2 / self.spread_x)
        half = t95(self.n - 2) * doubt
        return Estimate(value, value - half, value + half)


def straight_line(x: Floats, y: Floats) -> Line | None:
    """The line of least squares through points, shape (n,); None for fewer than three, or when all
    stand over one x.
    """
    n = len(x)
    mean_x, mean_y = (float(np.mean(v)) if n else 0.0 for v in (x, y))
    spread_x = float(np.sum((x - mean_x) ** 2))
    if n < 3 or spread_x <= 0:
        return None
    slope = float(np.sum((x - mean_x) * (y - mean_y))) / spread_x
    intercept = mean_y - slope * mean_x
    left = float(np.sum((y - intercept - slope * x) ** 2))
    total = float(np.sum((y - mean_y) ** 2))
    r2 = 1 - left / total if total > 0 else 0.0
    return Line(intercept, slope, r2, n, math.sqrt(left / (n - 2)), mean_x, spread_x)


def mean_of(values: Floats) -> Estimate | None:
    """The mean of values with its interval, shape (n,); None for fewer than two."""
    n = len(values)
    if n < 2:
        return None
    mean, half = float(values.mean()), t95(n - 1) * float(values.std(ddof=1)) / math.sqrt(n)
    return Estimate(mean, mean - half, mean + half)


def t95(freedom: int) -> float:
    """Student's t of a two-sided interval of 95 % [-]; exact to 0.0005.

    Beyond the table by the first terms of its expansion about the normal distribution (Abramowitz
    and Stegun 26.7.5). Raises ValueError below one degree of freedom.

    >>> t95(4), round(t95(60), 3)
    (2.7764, 2.0)
    """
    if freedom < 1:
        raise ValueError(f"{freedom} degrees of freedom give no interval; it takes 1 or more")
    if freedom <= len(T95):
        return T95[freedom - 1]
    z = NORMAL95
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / freedom + second / freedom**2
