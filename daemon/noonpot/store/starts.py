"""When the daemon was started, and for how long it had been away, as rows."""

import sqlite3

from noonpot.core.moment import Moment
from noonpot.core.stationfacts import Absence
from noonpot.store.timeline import Span, span_of

HOUR_S = 3600
MOST_KEPT = 1000


def begin(db: sqlite3.Connection, span: Span, now: Moment) -> None:
    """Note that the daemon starts."""
    db.execute(
        "INSERT INTO start (span, tick, last_reading)"
        " VALUES (?, ?, (SELECT max(id) >> 10 FROM reading))",
        (span.first_tick, span.tick_of(now.mono_s)),
    )
    db.execute("DELETE FROM start WHERE id <= (SELECT max(id) FROM start) - ?", (MOST_KEPT,))


def end(db: sqlite3.Connection) -> None:
    """Note that the daemon that started last comes to a proper end."""
    db.execute("UPDATE start SET ended = 1 WHERE id = (SELECT max(id) FROM start)")


def absence(db: sqlite3.Connection, now: Moment) -> Absence | None:
    """The absence before the last start, None when none was noted.

    The gap begins with the last reading. Within a boot the count of ticks tells it, from one boot
    to the next only clocks that were set can. The hour for the restarts is one of running time.
    """
    row = db.execute(
        "SELECT tick, last_reading, clock_span.* FROM start"
        " JOIN clock_span ON first_tick = span ORDER BY id DESC LIMIT 1"
    ).fetchone()
    if row is None:
        return None
    span, tick = span_of(row), int(row["tick"])
    present = span.tick_of(now.mono_s)
    (restarts,) = db.execute(
        "SELECT count(*) FROM start JOIN start AS before ON before.id = start.id - 1"
        " WHERE start.tick > ? AND NOT before.ended",
        (present - HOUR_S,),
    ).fetchone()
    gap_s = _gap_s(db, span, tick, row["last_reading"])
    return Absence(gap_s, float(max(0, present - tick)), int(restarts))


def _gap_s(db: sqlite3.Connection, span: Span, tick: int, last: int | None) -> float | None:
    if last is None:
        return 0.0
    before = db.execute(
        "SELECT * FROM clock_span WHERE first_tick <= ? ORDER BY first_tick DESC LIMIT 1", (last,)
    ).fetchone()
    old = span_of(before)
    if old.boot == span.boot:
        return float(max(0, tick - last))
    if not (old.trusted and span.trusted):
        return None
    return max(0.0, (span.at(tick) - old.at(last)).total_seconds())
