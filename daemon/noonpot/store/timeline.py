"""The store's own count of seconds, and what the wall clock showed beside it.

A Raspberry Pi boots with a guess for the time and is set, or stepped, later; so nothing here is
ordered or keyed by wall time. Rows are keyed by *tick*: a whole second of a count that never goes
back. Within a boot it follows the monotonic clock; the next boot goes on where the last one ended.

A *span* is a stretch of ticks during which wall time minus tick is one constant, ``wall_s``. A boot
has one span, and one more after every step of its wall clock. A reading belongs to the span whose
stretch holds its tick; events and the like name theirs, since they may tell of earlier times.

From this follows: a clock that falls back overwrites nothing, every row's monotonic stamp is
``tick - zero`` (to the second), and when the clock of a boot is set at last, one number a span is
corrected and all its rows are right.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import ceil, floor

from noonpot.core.moment import Moment
from noonpot.core.readings import Sample

# Wall minus monotonic clock may wander this far before it counts as a step. [s]
STEP_S = 2.0
# Keeps rounding errors from taking a whole second for the end of the one before. [s]
GRAIN_S = 1e-5
ENDLESS = 1 << 40


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of ticks with one clock offset; ``first_tick`` is its key.

    ``zero`` is where the count was when the monotonic clock of this boot was 0; its fraction makes
    ticks change with the seconds of the wall clock. ``wall_s`` is the Unix time of tick 0 by this
    span's clock [s].
    """

    first_tick: int
    boot: str
    zero: float
    wall_s: int
    trusted: bool

    @property
    def offset_s(self) -> float:
        """Wall minus monotonic clock [s]."""
        return self.wall_s + self.zero

    def fits(self, at: datetime, mono_s: float) -> bool:
        """Whether both clocks stood to each other as they do in this span."""
        return abs(at.timestamp() - mono_s - self.offset_s) <= STEP_S

    def tick(self, at: datetime) -> int:
        """The tick of a wall time by this span's clock."""
        return floor(at.timestamp()) - self.wall_s

    def tick_of(self, mono_s: float) -> int:
        """The tick of a monotonic time of this boot."""
        return floor(self.zero + mono_s + GRAIN_S)

    def at(self, tick: int) -> datetime:
        """The wall time of a tick."""
        return moment_of(self.wall_s + tick)

    def shift_s(self, boot: str, now: Moment) -> float:
        """What brings a monotonic time of this span onto the monotonic clock of ``now`` [s].

        Nothing within a boot; from an earlier boot, only the wall clock can tell.
        """
        if self.boot == boot:
            return 0.0
        return self.offset_s - (now.at.timestamp() - now.mono_s)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Ticks ``first`` to ``last``, both included, of one span."""

    span: Span
    first: int
    last: int


def moment_of(unix_s: float) -> datetime:
    """Unix time [s] as aware UTC."""
    return datetime.fromtimestamp(unix_s, UTC)


def present(
    db: sqlite3.Connection, boot: str, moment: Moment, samples: Sequence[Sample] = ()
) -> Span:
    """The span that holds now; opened when this boot, or this state of its clock, is new.

    A trusted clock first corrects what this boot wrote before. ``samples`` that were already
    stamped by the clock of now belong to a newly opened span too.
    """
    if moment.trusted:
        _correct(db, boot, moment)
    newest = _newest(db)
    if newest is None or newest.boot != boot:
        return _open(db, _first_span(boot, _last_tick(db) + 1, moment))
    if newest.fits(moment.at, moment.mono_s):
        return newest
    return _open(db, _next_span(newest, moment, samples))


def spans(db: sqlite3.Connection) -> list[Span]:
    """All spans in the order of ticks."""
    rows = db.execute("SELECT * FROM clock_span ORDER BY first_tick")
    return [span_of(row) for row in rows]


def stretches(db: sqlite3.Connection, since: datetime, until: datetime) -> Iterator[Stretch]:
    """The ticks whose wall time is ``since`` to ``until``, both included."""
    known = spans(db)
    ends = [following.first_tick - 1 for following in known[1:]] + [ENDLESS]
    for span, end in zip(known, ends, strict=True):
        first = max(span.first_tick, ceil(since.timestamp()) - span.wall_s)
        last = min(end, span.tick(until))
        if first <= last:
            yield Stretch(span, first, last)


def is_behind(db: sqlite3.Connection, boot: str, now: Moment) -> bool:
    """Whether the clock of this boot was set, or jumped, since anything was written."""
    newest = _newest(db)
    if newest is None or newest.boot != boot:
        return False
    return newest.trusted < now.trusted or not newest.fits(now.at, now.mono_s)


def wall_now_s(span: Span, now: Moment) -> int:
    """The Unix time of tick 0 by the clock of ``now``, which is of the same boot [s]."""
    return span.wall_s if span.fits(now.at, now.mono_s) else _wall_s(span, now)


def _correct(db: sqlite3.Connection, boot: str, moment: Moment) -> None:
    """Move all that this boot wrote under an untrusted clock to its true time."""
    untrusted = db.execute("SELECT * FROM clock_span WHERE boot = ? AND NOT trusted", (boot,))
    for span in map(span_of, untrusted.fetchall()):
        right = span.fits(moment.at, moment.mono_s)
        db.execute(
            "UPDATE clock_span SET trusted = 1, wall_s = ? WHERE first_tick = ?",
            (span.wall_s if right else _wall_s(span, moment), span.first_tick),
        )


def _first_span(boot: str, first: int, moment: Moment) -> Span:
    offset_s = moment.at.timestamp() - moment.mono_s
    # One tick of room: what was read just after the boot may round down.
    span = Span(first, boot, first + 1 + offset_s - floor(offset_s), 0, moment.trusted)
    return replace(span, wall_s=_wall_s(span, moment))


def _next_span(newest: Span, moment: Moment, samples: Sequence[Sample]) -> Span:
    span = replace(newest, wall_s=_wall_s(newest, moment), trusted=moment.trusted)
    stamped = [span.tick_of(s.mono_s) for s in samples if span.fits(s.at, s.mono_s)]
    first = min([span.tick_of(moment.mono_s), *stamped])
    return replace(span, first_tick=max(first, newest.first_tick + 1))


def _wall_s(span: Span, moment: Moment) -> int:
    """What makes the wall time of the tick of this moment right."""
    return floor(moment.at.timestamp()) - span.tick_of(moment.mono_s)


def _open(db: sqlite3.Connection, span: Span) -> Span:
    db.execute(
        "INSERT INTO clock_span (first_tick, boot, zero, wall_s, stamped_wall_s, trusted)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        (span.first_tick, span.boot, span.zero, span.wall_s, span.wall_s, span.trusted),
    )
    return span


def _newest(db: sqlite3.Connection) -> Span | None:
    row = db.execute("SELECT * FROM clock_span ORDER BY first_tick DESC LIMIT 1").fetchone()
    return span_of(row) if row else None


def span_of(row: sqlite3.Row) -> Span:
    """The span in a row that holds all columns of ``clock_span``."""
    return Span(row["first_tick"], row["boot"], row["zero"], row["wall_s"], bool(row["trusted"]))


def _last_tick(db: sqlite3.Connection) -> int:
    (tick,) = db.execute(
        "SELECT max(coalesce((SELECT max(first_tick) FROM clock_span), 0),"
        " coalesce((SELECT max(id) >> 10 FROM reading), 0),"
        " coalesce((SELECT max(tick) FROM fault), 0))"
    ).fetchone()
    return int(tick)
