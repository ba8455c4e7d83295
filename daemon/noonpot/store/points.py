"""Rows of the store as a time-series server takes them: what was measured, by whom, when.

All numbers go as floats, because a server keeps a field for good as it first came. Words go too,
for a server that keeps them.
"""

import json
import sqlite3
from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import isfinite

from noonpot.core.readings import Role
from noonpot.store.calibrations import Lines
from noonpot.store.streams import EVENTS, FORECASTS, READINGS, tick_of

# The details of events that are numbers, and the fields they become.
NUMBERS = {
    "azimuth": "azimuth_deg",
    "elevation": "elevation_deg",
    "mass_kg": "mass_kg",
    "start_c": "start_c",
    "target_c": "target_c",
    "core_c": "core_c",
    "minutes": "minutes",
}
FORECAST_FIELDS = {
    "cook": "cook",
    "target_c": "target_c",
    "p_done": "p_done",
    "p10_s": "done_p10_s",
    "p50_s": "done_p50_s",
    "p90_s": "done_p90_s",
}


@dataclass(frozen=True, slots=True)
class Point:
    """One row as a time-series server takes it; ``at_ms`` is Unix time [ms]."""

    measurement: str
    tags: Mapping[str, str]
    fields: Mapping[str, float | str]
    at_ms: int


class Times:
    """When a tick was, for a server that tells rows apart by their time.

    A clock that was set back passes the same seconds again. Rows of the second passage are a
    millisecond later, of the third two, so that none takes the place of another.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        spans = db.execute("SELECT first_tick, wall_s FROM clock_span ORDER BY first_tick")
        known: list[tuple[int, int]] = [(first, wall_s) for first, wall_s in spans]
        self._firsts = [first for first, _ in known]
        self._walls = [wall_s for _, wall_s in known]
        ends = [first - 1 for first in self._firsts[1:]]
        self._last_s = [end + wall_s for end, wall_s in zip(ends, self._walls, strict=False)]
        self._latest_s = [-1, *accumulate(self._last_s, max)]

    def at_s(self, tick: int, span: int) -> int:
        """The wall time of a tick by the clock of a span, as Unix time [s]."""
        return self._walls[self._number(span)] + tick

    def at_ms(self, tick: int, span: int | None = None) -> int:
        """The same in ms; without a span, that of the tick counts."""
        number = self._number(tick if span is None else span)
        at_s = self._walls[number] + tick
        if at_s > self._latest_s[number]:
            return at_s * 1000
        passed = sum(
            self._firsts[before] + self._walls[before] <= at_s <= self._last_s[before]
            for before in range(number)
        )
        return at_s * 1000 + passed

    def _number(self, tick: int) -> int:
        return bisect_right(self._firsts, tick) - 1


def reading_point(row: sqlite3.Row, times: Times, lines: Lines) -> Point:
    """A reading as its calibration makes it."""
    tick = tick_of(READINGS, row["id"])
    irradiance = row["role"] == Role.IRRADIANCE
    tags = {"probe": row["probe"], "role": row["role"], "cooker": row["cooker"]}
    return Point(
        "irradiance" if irradiance else "temperature",
        {key: value for key, value in tags.items() if value},
        {
            "w_per_m2" if irradiance else "celsius": float(
                lines.value(row["series"], tick, row["value"])
            )
        },
        times.at_ms(tick),
    )


def event_point(row: sqlite3.Row, times: Times, _: Lines) -> Point:
    """Events of one second are told apart by the milliseconds, made of their number.

    The detail goes as JSON, that is one line, whatever is in it; its numbers as fields of their own
    beside it.
    """
    return Point(
        "event",
        {"cooker": row["cooker"], "kind": row["kind"]},
        {"count": 1.0, "detail": row["detail"], **_numbers(json.loads(row["detail"]))},
        times.at_s(row["tick"], row["span"]) * 1000 + row["id"] % 1000,
    )


def forecast_point(row: sqlite3.Row, times: Times, _: Lines) -> Point:
    """The headline of a forecast; times are seconds from when it was given. What is not known is
    left out.
    """
    return Point(
        "forecast",
        {"cooker": row["cooker"]},
        {name: float(row[key]) for key, name in FORECAST_FIELDS.items() if row[key] is not None},
        times.at_ms(row["tick"], row["span"]),
    )


POINTS: Mapping[str, Callable[[sqlite3.Row, Times, Lines], Point]] = {
    EVENTS: event_point,
    FORECASTS: forecast_point,
    READINGS: reading_point,
}


def _numbers(detail: Mapping[str, str]) -> dict[str, float]:
    found = {}
    for key, name in NUMBERS.items():
        try:
            number = float(detail.get(key, ""))
        except ValueError:
            continue
        if isfinite(number):
            found[name] = number
    return found
