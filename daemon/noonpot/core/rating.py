"""Standardised cooking power after ASABE S580.1, from the ten-minute intervals of watched cooks.

Many intervals give a straight line of power over food above air, and the line at 50 K the rating.
The interval around it counts the scatter of the points alone, as a regression does.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from noonpot.core.conditions import BARRING, CONDITIONS, Tally, barring, tallied
from noonpot.core.straightline import Estimate, Line, straight_line
from noonpot.core.tenminutes import Interval, from_sensor

AT_K = 50.0
OBSERVATIONS, DAYS, R2 = 30, 3, 0.75
"""What the standard asks of the whole test (7.7; known from memory)."""
ENOUGH = 10
"""With so many intervals that are nearer to the standard the others are left out (our choice)."""
PREFERRED = (
    from_sensor,
    CONDITIONS["water"].check,
    CONDITIONS["midday"].check,
    CONDITIONS["load"].check,
)


@dataclass(frozen=True, slots=True, eq=False)
class CookingPower:
    """The rating: the intervals it rests on, how many were ``barred`` by each condition, and the
    line of power [W] over excess [K], None with too few points. ``power_w`` is the line at 50 K.
    """

    intervals: tuple[Interval, ...]
    barred: Mapping[str, int]
    line: Line | None
    power_w: Estimate | None
    conditions: Mapping[str, Tally]

    @property
    def days(self) -> int:
        """On how many days."""
        return len({i.day for i in self.intervals})

    @property
    def measured(self) -> bool:
        """Whether the light of every interval came from a sensor."""
        return all(from_sensor(i) for i in self.intervals)

    @property
    def reach_k(self) -> tuple[float, float]:
        """The least and the greatest excess of an interval [K]."""
        excess = [i.excess_k for i in self.intervals]
        return min(excess), max(excess)

    @property
    def extrapolated(self) -> bool:
        """Whether 50 K lie outside what was measured."""
        low, high = self.reach_k
        return not low <= AT_K <= high

    @property
    def whole(self) -> Mapping[str, bool]:
        """What the standard asks of the whole test, and whether it is met."""
        return {
            f"{OBSERVATIONS} intervals or more (7.7)": len(self.intervals) >= OBSERVATIONS,
            f"{DAYS} days or more (7.7)": self.days >= DAYS,
            f"R² above {R2} (7.7)": self.line is not None and self.line.r2 > R2,
            "50 K within what was measured": bool(self.intervals) and not self.extrapolated,
        }

    @property
    def by_the_standard(self) -> bool:
        """Whether every condition was met, in every interval and of the whole."""
        clean = all(t.broken == t.unknown == 0 for t in self.conditions.values())
        return clean and all(self.whole.values())


def cooking_power(found: Iterable[Interval]) -> CookingPower:
    """The rating from all intervals that were found.

    Where there are enough of them, intervals whose light was measured come before estimates, those
    of plain water before other food, of midday before others, of the standard's load before others.
    """
    every = list(found)
    barred = Counter(name for interval in every for name in barring(interval))
    good = _best([interval for interval in every if not barring(interval)])
    line = straight_line(
        np.array([i.excess_k for i in good]), np.array([i.standard_w for i in good])
    )
    return CookingPower(
        intervals=tuple(good),
        barred={name: barred[name] for name in BARRING if barred[name]},
        line=line,
        power_w=None if line is None else line.at(AT_K),
        conditions=tallied(good),
    )


def _best(good: Sequence[Interval]) -> Sequence[Interval]:
    """The intervals nearest to the standard, as long as enough of them are left."""
    for wanted in PREFERRED:
        some = [i for i in good if wanted(i)]
        if len(some) >= ENOUGH:
            good = some
    return good
