"""Calibrations as rows, and the readings corrected by them.

A reading stays in the file as the probe gave it. A calibration counts from its tick on, until the
next one of the same probe: whoever reads applies the line that was the last one then.
"""

import sqlite3
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from noonpot.core.calibration import Calibration, place_of
from noonpot.core.calibrationletter import points_of, points_text
from noonpot.core.moment import Moment
from noonpot.core.station import ProbeSpec
from noonpot.store.timeline import Span, Stretch, moment_of, spans

STEPS_PER_UNIT = 16
"""Readings are whole numbers of 1/16 °C, the step of the finest probe, or 1/16 W/m²."""
DECIMALS = 4

LATEST = """SELECT calibration.*, wall_s + tick AS at_s
    FROM calibration JOIN clock_span ON first_tick = span
    WHERE tick = (SELECT max(tick) FROM calibration AS other WHERE other.probe = calibration.probe)
    ORDER BY probe"""
OF_SERIES = """SELECT series.id AS series, tick, gain, offset_k
    FROM calibration JOIN series ON series.probe = calibration.probe ORDER BY tick"""


class Lines:
    """The line of each series at each tick. Takes raw steps, gives °C (or W/m²)."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._ticks: dict[int, list[int]] = {}
        self._lines: dict[int, list[tuple[float, float]]] = {}
        for series, tick, gain, offset_k in db.execute(OF_SERIES) if _is_there(db) else ():
            self._ticks.setdefault(series, []).append(tick)
            self._lines.setdefault(series, []).append((gain, offset_k))

    def value(self, series: int, tick: int, steps: float) -> float:
        """What a reading means."""
        line = self._line(series, tick)
        shown = steps / STEPS_PER_UNIT
        return shown if line is None else round(line[0] * shown + line[1], DECIMALS)

    def steps(self, series: int, tick: int, value: float) -> float:
        """The raw steps at which a reading would mean this."""
        gain, offset_k = self._line(series, tick) or (1.0, 0.0)
        return (value - offset_k) / gain * STEPS_PER_UNIT

    def pieces(self, stretches: Iterable[Stretch]) -> Iterator[Stretch]:
        """The same stretches, cut so that in each piece every series has one line."""
        cuts = sorted({tick for ticks in self._ticks.values() for tick in ticks})
        for stretch in stretches:
            inside = [cut for cut in cuts if stretch.first < cut <= stretch.last]
            firsts = [stretch.first, *inside]
            lasts = [*(cut - 1 for cut in inside), stretch.last]
            for first, last in zip(firsts, lasts, strict=True):
                yield Stretch(stretch.span, first, last)

    def _line(self, series: int, tick: int) -> tuple[float, float] | None:
        ticks = self._ticks.get(series)
        number = bisect_right(ticks, tick) if ticks else 0
        return self._lines[series][number - 1] if number else None


def keep(db: sqlite3.Connection, span: Span, now: Moment, calibration: Calibration) -> int:
    """Write a calibration; returns the tick from which on it counts."""
    begun, tick = _begin(spans(db), calibration.at, span.tick_of(now.mono_s))
    db.execute(
        "INSERT OR REPLACE INTO calibration"
        " (probe, tick, span, place, gain, offset_k, spread_k, points)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            calibration.probe,
            tick,
            begun.first_tick,
            calibration.place,
            calibration.gain,
            calibration.offset_k,
            calibration.spread_k,
            points_text(calibration.points),
        ),
    )
    return tick


def end_moved(db: sqlite3.Connection, span: Span, now: Moment, probes: Sequence[ProbeSpec]) -> None:
    """Let no calibration count any more that was made of what hung at another place."""
    known = latest(db)
    for probe in probes:
        last = known.get(probe.name)
        if last is not None and last.points and last.place != place_of(probe):
            keep(db, span, now, Calibration(probe.name, last.place, now.at))


def latest(db: sqlite3.Connection) -> Mapping[str, Calibration]:
    """The last calibration of each probe that ever had one."""
    rows = db.execute(LATEST) if _is_there(db) else ()
    return {
        row["probe"]: Calibration(
            row["probe"],
            row["place"],
            moment_of(row["at_s"]),
            row["gain"],
            row["offset_k"],
            row["spread_k"],
            points_of(row["points"]),
        )
        for row in rows
    }


def _begin(known: Sequence[Span], at: datetime, now_tick: int) -> tuple[Span, int]:
    """The first tick that is not before a time, and its span. A letter may have waited through a
    boot, and while nothing runs no tick passes.
    """
    begun, tick = known[-1], now_tick
    for span in reversed(known):
        there = span.tick(at)
        if there >= tick:
            break
        begun, tick = span, max(there, span.first_tick)
        if there >= span.first_tick:
            break
    return begun, tick


def _is_there(db: sqlite3.Connection) -> bool:
    """Whether the file has the table; not so when no new daemon has opened it yet."""
    asked = "SELECT 1 FROM sqlite_schema WHERE name = 'calibration'"
    return db.execute(asked).fetchone() is not None
