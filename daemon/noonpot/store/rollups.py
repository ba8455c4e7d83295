"""Roll-ups: what is left of old readings, ten minutes of a series in one row, see ``retention``."""

import sqlite3
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil

from noonpot.core.stationfacts import Readings
from noonpot.store.samples import SERIES
from noonpot.store.timeline import Stretch, span_of, stretches

ROLL_S = 600
MOST_ROLLUPS = 30_000
"""Of a range with more of them not all are looked at, for somebody waits for the curve."""
LANDINGS = 1000

# A roll-up tells of two readings, its smallest and its largest.
READ = """SELECT (tick + :shift) / :width AS bin, series,
        min((value << 32) + tick - :origin), max((value << 32) + tick - :origin)
    FROM (
        SELECT (id >> 10) + low_s AS tick, id & 1023 AS series, low AS value
            FROM rollup WHERE id BETWEEN :first AND :last
        UNION ALL SELECT (id >> 10) + high_s, id & 1023, high
            FROM rollup WHERE id BETWEEN :first AND :last)
    WHERE tick BETWEEN :begun AND :ended AND series IN (SELECT value FROM json_each(:numbers))
    GROUP BY bin, series
"""
WALK = """WITH RECURSIVE walk (tick) AS (
        SELECT (SELECT id >> 10 FROM rollup WHERE id BETWEEN :first AND :last ORDER BY id LIMIT 1)
        UNION ALL
        SELECT (SELECT id >> 10 FROM rollup
            WHERE id BETWEEN (tick + :step) * 1024 AND :last ORDER BY id LIMIT 1)
        FROM walk WHERE tick IS NOT NULL
    )
    SELECT tick, id & 1023, low, tick + low_s, high, tick + high_s
    FROM walk CROSS JOIN rollup ON id BETWEEN tick * 1024 AND tick * 1024 + 1023
    WHERE tick IS NOT NULL AND id & 1023 IN (SELECT value FROM json_each(:numbers))
"""
NEAREST = "SELECT id >> 10 FROM rollup WHERE id BETWEEN ? AND ? ORDER BY id {} LIMIT 1"
SPAN = "SELECT * FROM clock_span WHERE first_tick <= ? ORDER BY first_tick DESC LIMIT 1"


def ids(stretch: Stretch) -> tuple[int, int]:
    """The smallest and the largest id of a roll-up that may reach into this stretch."""
    return (stretch.first - ROLL_S + 1) * SERIES, stretch.last * SERIES + SERIES - 1


def walk_step_s(db: sqlite3.Connection, ranges: Sequence[Stretch], width: int) -> int | None:
    """None when there are no roll-ups, 0 when all of them can be read, else the step of a walk [s].
    ``width`` is how many series stand side by side.
    """
    if not is_there(db):
        return None
    found, length_s = False, 0
    for stretch in ranges:
        first = db.execute(NEAREST.format("ASC"), ids(stretch)).fetchone()
        if first is not None:
            found = True
            last = db.execute(NEAREST.format("DESC"), ids(stretch)).fetchone()
            length_s += int(last[0] - first[0]) + ROLL_S
    if not found:
        return None
    return 0 if length_s // ROLL_S * width <= MOST_ROLLUPS else ceil(length_s / LANDINGS)


def periods(
    db: sqlite3.Connection, cooker: str, since: datetime, until: datetime
) -> Sequence[tuple[datetime, datetime]]:
    """From when to when, between these two, only roll-ups of the probes of a cooker are left."""
    if not is_there(db):
        return []
    found: list[tuple[datetime, datetime]] = []
    for stretch in stretches(db, since, until):
        for (tick,) in db.execute(
            "SELECT DISTINCT rollup.id >> 10 FROM rollup"
            " JOIN series ON series.id = rollup.id & 1023"
            " WHERE rollup.id BETWEEN ? AND ? AND cooker IN (?, '') ORDER BY 1",
            (*ids(stretch), cooker),
        ):
            begun = stretch.span.at(tick)
            ended = begun + timedelta(seconds=ROLL_S)
            if found and found[-1][1] >= begun:
                found[-1] = found[-1][0], ended
            else:
                found.append((begun, ended))
    return found


def readings(db: sqlite3.Connection, waits_for: str | None) -> Readings:
    """How old the oldest reading is that is there as it was read, and up to when readings outside
    of cooks are rolled up; ``waits_for`` is handed on.
    """
    oldest = db.execute("SELECT min(id) >> 10 FROM reading").fetchone()[0]
    last = db.execute("SELECT max(id) >> 10 FROM rollup").fetchone()[0]
    return Readings(
        None if oldest is None else _at(db, oldest),
        None if last is None else _at(db, last + ROLL_S),
        waits_for,
    )


def is_there(db: sqlite3.Connection) -> bool:
    """Whether the file has the table; not so when no new daemon has opened it yet."""
    asked = "SELECT 1 FROM sqlite_schema WHERE name = 'rollup'"
    return db.execute(asked).fetchone() is not None


def _at(db: sqlite3.Connection, tick: int) -> datetime:
    return span_of(db.execute(SPAN, (tick,)).fetchone()).at(tick)
