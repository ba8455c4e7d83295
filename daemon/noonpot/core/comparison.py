"""Cookers or set-ups side by side: which of two does better on the same days, and by how much.

A cook becomes one number: its power at 50 K and 700 W/m², as in ASABE S580.1, with the load brought
to 7 kg on each square metre. So light, air and load of the day fall out, and what the day still
does to both falls out of the difference.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from noonpot.core.conditions import barring
from noonpot.core.rating import AT_K
from noonpot.core.straightline import Estimate, mean_of
from noonpot.core.tenminutes import STANDARD_WM2, Interval

Floats = NDArray[np.float64]

PAIRS = 3
"""Fewer days of both tell nothing (S580.1 asks for three)."""
INTERVALS = 3
"""A cook with fewer good intervals is left out (our choice)."""


@dataclass(frozen=True, slots=True)
class Score:
    """One cook of one side: its power at 50 K and 700 W/m² [W]."""

    side: str
    day: date
    power_w: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sides: the days on which both cooked, and how much more the second does than the first
    [W]; ``more_w`` is None where there are not enough days yet. ``first_w`` and ``second_w`` are
    the means of these days, None without any.
    """

    first: str
    second: str
    pairs: int
    first_w: float | None = None
    second_w: float | None = None
    more_w: Estimate | None = None

    @property
    def real(self) -> bool:
        """Whether chance alone hardly makes such a difference."""
        return self.more_w is not None and not self.more_w.low <= 0 <= self.more_w.high


def scores(cooks: Sequence[tuple[str, Sequence[Interval]]]) -> list[Score]:
    """The score of each cook that has enough good intervals.

    ``cooks`` are sides with their intervals. Within a cook the power falls along a line of light
    and excess; its steepness is taken from all cooks of a side together, since one alone tells
    little of it.
    """
    good = [(side, [i for i in some if not barring(i)]) for side, some in cooks]
    good = [(side, some) for side, some in good if len(some) >= INTERVALS]
    slopes = {side: _slope([some for s, some in good if s == side]) for side, _ in good}
    return [
        Score(
            side,
            some[0].day,
            _gained(some) + slopes[side] * (AT_K / STANDARD_WM2 - _cooled(some)),
        )
        for side, some in good
    ]


def _gains(some: Sequence[Interval]) -> tuple[Floats, Floats]:
    """Excess over light [K m²/W], and power at 700 W/m² [W], of each interval, shape (n,)."""
    light = np.array([i.light.across_wm2 for i in some])
    return np.array([i.excess_k for i in some]) / light, np.array([i.standard_w for i in some])


def _gained(some: Sequence[Interval]) -> float:
    return float(_gains(some)[1].mean())


def _cooled(some: Sequence[Interval]) -> float:
    return float(_gains(some)[0].mean())


def _slope(cooks: Sequence[Sequence[Interval]]) -> float:
    """The common steepness within cooks [W per K m²/W], 0 where nothing tells it."""
    pairs = [_gains(some) for some in cooks]
    x = np.concatenate([x - x.mean() for x, _ in pairs])
    y = np.concatenate([y - y.mean() for _, y in pairs])
    square = float(np.sum(x**2))
    return float(np.sum(x * y)) / square if square > 0 else 0.0


def compared(found: Sequence[Score], first: str, second: str) -> Comparison:
    """The second side against the first, on the days on which both cooked."""
    by_day: dict[date, dict[str, list[float]]] = {}
    for score in found:
        by_day.setdefault(score.day, {}).setdefault(score.side, []).append(score.power_w)
    both = [sides for sides in by_day.values() if first in sides and second in sides]
    if not both:
        return Comparison(first, second, 0)
    ones, others = (np.array([np.mean(sides[name]) for sides in both]) for name in (first, second))
    more = mean_of(others - ones) if len(both) >= PAIRS else None
    return Comparison(first, second, len(both), float(ones.mean()), float(others.mean()), more)
