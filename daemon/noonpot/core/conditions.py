"""The conditions of ASABE S580.1 for one interval: each met, not met, or not known.

Clause numbers are those of S580.1 (NOV 2013). The limits are known from memory and agree with P. A.
Funk, Solar Energy 68 (2000) 1-7.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from noonpot.core.evidence import LightFrom
from noonpot.core.tenminutes import KG_NEAR, KG_PER_M2, Interval

TURN_S = 1800.0
ALIGNED = 0.95
"""Turned longer ago, a cooker must still catch so much of the beam (our choice)."""


class Condition(NamedTuple):
    """A condition in words, and its check; None is not known."""

    words: str
    check: Callable[[Interval], bool | None]


def _wind(i: Interval) -> bool | None:
    return None if i.wind_ms is None else i.wind_ms <= 2.5


def _steady(i: Interval) -> bool | None:
    return None if i.light.spread_wm2 is None else i.light.spread_wm2 <= 100


def _settled(i: Interval) -> bool | None:
    if i.before_wm2 is None:  # a sky that was not known as clear was not clear, where no sensor saw
        return None if i.light.source is LightFrom.SENSOR else False
    return abs(i.before_wm2 - i.light.across_wm2) <= 100


def _loaded(i: Interval) -> bool | None:
    return None if i.kg_per_m2 is None else abs(i.kg_per_m2 / KG_PER_M2 - 1) <= KG_NEAR


def _tracked(i: Interval) -> bool | None:
    if i.turned_s is None or i.caught is None:
        return None
    return i.turned_s <= TURN_S or i.caught >= ALIGNED


def _own_heat(i: Interval) -> bool | None:
    return None if i.own_heat is None else not i.own_heat


BARRING = MappingProxyType(
    {
        "wind": Condition("wind at most 2.5 m/s (5.1)", _wind),
        "water-range": Condition(
            "food from 5 K above the air to 5 K below boiling (5.3)",
            lambda i: i.start_c >= i.ambient_c + 5 and i.end_c <= i.boiling_c - 5,
        ),
        "light-range": Condition(
            "light of 450 to 1100 W/m² (5.4)", lambda i: 450 <= i.light.across_wm2 <= 1100
        ),
        "light-steady": Condition("light steady within 100 W/m² (5.4)", _steady),
        "settled": Condition("light the same for twenty minutes before", _settled),
        "tracked": Condition("turned every 30 min, or still on the sun (6.2)", _tracked),
        "quiet": Condition("lid closed", lambda i: not i.disturbed),
        "own-heat": Condition("no heat left from heating up the empty cooker", _own_heat),
    }
)
"""An interval that breaks one of these is left out of the rating."""
NOTED = MappingProxyType(
    {
        "air": Condition("air of 20 to 35 °C (5.2)", lambda i: 20 <= i.ambient_c <= 35),
        "light-across": Condition("light measured across the beam (5.4)", lambda _: False),
        "midday": Condition("10:00 to 14:00 by the sun (5.5)", lambda i: 10 <= i.solar_h <= 14),
        "load": Condition("7 kg on each square metre (6.1)", _loaded),
        "water": Condition("plain water (6.1)", lambda i: i.water),
        "probe": Condition(
            "probe 10 mm above the bottom, in the middle (6.3)",
            lambda i: True if i.by_the_book else None,
        ),
    }
)
"""One that breaks any of these is rated all the same, and the report says so. Level sensors never
lie across the beam."""
CONDITIONS: Mapping[str, Condition] = MappingProxyType({**BARRING, **NOTED})


def judged(interval: Interval) -> Mapping[str, bool | None]:
    """Each condition: met, not met, or None for not known."""
    return {name: condition.check(interval) for name, condition in CONDITIONS.items()}


def barring(interval: Interval) -> tuple[str, ...]:
    """The conditions that keep an interval out of the rating."""
    return tuple(name for name, condition in BARRING.items() if condition.check(interval) is False)


@dataclass(frozen=True, slots=True)
class Tally:
    """In how many of the rated intervals a condition was met, not met, not known."""

    met: int
    broken: int
    unknown: int


def tallied(good: Sequence[Interval]) -> Mapping[str, Tally]:
    """In how many intervals each condition was met, not met, not known."""
    found = [judged(i) for i in good]
    return {
        name: Tally(*(sum(f[name] is state for f in found) for state in (True, False, None)))
        for name in CONDITIONS
    }
