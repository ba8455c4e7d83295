"""Cookers of many stations side by side, from what a time-series server was told day by day.

It counts and judges nothing: the cookers stood under different skies.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from noonpot.core.payloads import Payload
from noonpot.core.units import degrees

HOT_C = 90.0
"""Where food that cooks in water simmers, also high up (common practice, no source)."""

HEAD = ("station", "cooker", "days", "seen", "hot", "hot a day", "highest", "loads", "sun a day")
LIMITS = """\
Hot is a pot above {hot}, counted by minutes with a reading; a minute without one counts as not hot,
so a station that was off looks worse than it is. A day is 24 hours back from now.
These cookers stood under different skies, were turned by different people and held different food:
longer hot is not better. 'sun' is the light on level ground, kWh/m² a day, where a probe tells it.
Two cookers of one station are compared fairly, by day, load and sky, with:
noonpot rate COOKER --against COOKER"""


@dataclass(frozen=True, slots=True)
class Day:
    """One cooker on one day, that ends at ``until``: minutes with a reading, minutes hot, highest
    temperature of the pot [°C], loads put in, and light on level ground [kWh/m²], None unmeasured.
    """

    until: datetime
    seen_min: float
    hot_min: float
    highest_c: float
    loads: int
    sun_kwh: float | None


@dataclass(frozen=True, slots=True)
class CookerDays:
    """All days on which a cooker was seen."""

    station: str
    cooker: str
    days: Sequence[Day]

    @property
    def seen_h(self) -> float:
        """How long its pot was read [h]."""
        return sum(day.seen_min for day in self.days) / 60

    @property
    def hot_h(self) -> float:
        """How long its pot was hot [h]."""
        return sum(day.hot_min for day in self.days) / 60

    @property
    def hot_h_a_day(self) -> float:
        """How long it was hot on the middle one of its days [h]."""
        return median(day.hot_min for day in self.days) / 60 if self.days else 0.0

    @property
    def highest_c(self) -> float | None:
        """The hottest its pot was [°C]."""
        return max((day.highest_c for day in self.days), default=None)

    @property
    def loads(self) -> int:
        """How often food was put in."""
        return sum(day.loads for day in self.days)

    @property
    def sun_kwh_a_day(self) -> float | None:
        """The light of the middle one of its days [kWh/m²], None when unmeasured."""
        told = [day.sun_kwh for day in self.days if day.sun_kwh is not None]
        return median(told) if told else None


Answers = Mapping[tuple[str, str], Mapping[datetime, float]]
"""One figure of each (station, cooker), by the end of the day."""


def cooker_days(
    seen: Answers, hot: Answers, highest: Answers, loads: Answers, sun: Answers
) -> list[CookerDays]:
    """What was told, cooker by cooker, the one that is longest hot first. ``sun`` is that of a
    station, under the cooker "".
    """
    found = [
        CookerDays(
            station,
            cooker,
            [
                Day(
                    until=until,
                    seen_min=minutes,
                    hot_min=hot.get((station, cooker), {}).get(until, 0.0),
                    highest_c=highest[station, cooker][until],
                    loads=round(loads.get((station, cooker), {}).get(until, 0.0)),
                    sun_kwh=sun.get((station, ""), {}).get(until),
                )
                for until, minutes in sorted(days.items())
                if until in highest.get((station, cooker), {})
            ],
        )
        for (station, cooker), days in seen.items()
        if cooker
    ]
    found = [one for one in found if one.days]
    return sorted(found, key=lambda one: (-one.hot_h_a_day, -one.hot_h, one.station, one.cooker))


def days_lines(found: Sequence[CookerDays], unit: str) -> Iterator[str]:
    """The comparison as text, and what it cannot tell."""
    rows = [HEAD, *(_row(one, unit) for one in found)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            cell.ljust(width) if place < 2 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()
    yield ""
    yield from LIMITS.format(hot=degrees(HOT_C, unit, 0)).splitlines()


def days_json(one: CookerDays) -> Payload:
    """One cooker for a machine."""
    return {
        "station": one.station,
        "cooker": one.cooker,
        "days": len(one.days),
        "seen_h": round(one.seen_h, 2),
        "hot_h": round(one.hot_h, 2),
        "hot_h_a_day": round(one.hot_h_a_day, 2),
        "highest_c": None if one.highest_c is None else round(one.highest_c, 2),
        "loads": one.loads,
        "sun_kwh_per_m2_a_day": None if one.sun_kwh_a_day is None else round(one.sun_kwh_a_day, 2),
    }


def _row(one: CookerDays, unit: str) -> tuple[str, ...]:
    return (
        one.station,
        one.cooker,
        str(len(one.days)),
        f"{one.seen_h:.0f} h",
        f"{one.hot_h:.1f} h",
        f"{one.hot_h_a_day:.1f} h",
        "-" if one.highest_c is None else degrees(one.highest_c, unit, 0),
        str(one.loads),
        "-" if one.sun_kwh_a_day is None else f"{one.sun_kwh_a_day:.1f}",
    )
