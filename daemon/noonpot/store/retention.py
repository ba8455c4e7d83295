"""Old readings outside of cooks become roll-ups of ten minutes; those of a cook stay as they are.

Age is counted in ticks, the store's own seconds, so no clock that is set wrong makes a reading old.
Whole stays what lies within a margin of a cook, of an event or of a calibration, by the ticks and
by the clock, and whatever a time-series server has not been sent yet.

A roll-up is written in the transaction that deletes its readings, so a crash leaves either. What is
deleted leaves room in the file, and the next readings go there: the file does not grow, nor shrink.
"""

import sqlite3
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from noonpot.store.rollups import ROLL_S
from noonpot.store.samples import SERIES
from noonpot.store.streams import READINGS
from noonpot.store.timeline import ENDLESS, spans

MOST_ROWS = 5000
"""So many readings go in one transaction, which is then too short to be in anybody's way."""

TOLD = """SELECT started.wall_s + started_tick, started_tick,
        stopped.wall_s + stopped_tick, stopped_tick
    FROM cook JOIN clock_span AS started ON started.first_tick = started_span
        LEFT JOIN clock_span AS stopped ON stopped.first_tick = stopped_span
    UNION ALL SELECT wall_s + tick, tick, wall_s + tick, tick
        FROM event JOIN clock_span ON first_tick = span
    UNION ALL SELECT wall_s + tick, tick, wall_s + tick, tick
        FROM calibration JOIN clock_span ON first_tick = span"""
GATHER = f"""INSERT INTO rollup (id, low, low_s, high, high_s, total, readings)
    SELECT first * {SERIES} + series, low >> 32, low & 0xFFFFFFFF, high >> 32, high & 0xFFFFFFFF,
        total, readings
    FROM (SELECT max((id >> 10) / {ROLL_S} * {ROLL_S}, :first) AS first, id & 1023 AS series,
            min((value << 32) + (id >> 10) - max((id >> 10) / {ROLL_S} * {ROLL_S}, :first)) AS low,
            max((value << 32) + (id >> 10) - max((id >> 10) / {ROLL_S} * {ROLL_S}, :first)) AS high,
            sum(value) AS total, count(*) AS readings
        FROM reading WHERE id >= :first * {SERIES} AND id < :end * {SERIES}
        GROUP BY first, series)"""  # noqa: S608  two numbers of our own
NEXT = "SELECT id >> 10 FROM reading WHERE id >= ? ORDER BY id LIMIT 1"

Ticks = tuple[int, int]
"""The first and the last of some ticks."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Readings stay for ``whole_s`` [s], those around cooks for ever: from ``before_s`` before to
    ``after_s`` behind [s]. What a server in ``sinks`` was not sent yet stays as well.
    """

    whole_s: int
    before_s: int
    after_s: int
    sinks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rolled:
    """What one transaction did: how many ``readings`` it rolled up, before which tick all was gone
    through, and whether there is ``more``.
    """

    readings: int
    until: int
    more: bool


def whole(db: sqlite3.Connection, rule: Rule) -> Sequence[Ticks]:
    """The ticks whose readings stay, in order; those around a cook that runs have no end."""
    by_tick: list[Ticks] = []
    by_clock: list[Ticks] = []
    for begun_s, begun, ended_s, ended in db.execute(TOLD):
        last = ENDLESS if ended is None else ended + rule.after_s
        last_s = ENDLESS if ended_s is None else ended_s + rule.after_s
        by_tick.append((begun - rule.before_s, last))
        by_clock.append((begun_s - rule.before_s, last_s))
    return _merged([*by_tick, *_ticks_of(db, _merged(by_clock))])


def roll_up(
    db: sqlite3.Connection, boot: str, now_tick: int, rule: Rule, stays: Sequence[Ticks]
) -> Rolled:
    """Roll up the oldest readings that may be, as many as one transaction shall hold."""
    end = _end(db, boot, now_tick, rule, stays)
    row = db.execute("SELECT until_tick FROM rolled_up").fetchone()
    begun = 0 if row is None else int(row[0])
    if begun >= end:
        return Rolled(0, begun, more=False)
    first, last = _next_free(db, begun, end, stays)
    readings = 0
    if first <= last:
        last = min(last, _most(db, first))
        for piece in _pieces(db, first, last):
            readings += _gather(db, *piece)
    db.execute("INSERT OR REPLACE INTO rolled_up (id, until_tick) VALUES (0, ?)", (last + 1,))
    return Rolled(readings, last + 1, more=last + 1 < end)


def waits_for(db: sqlite3.Connection, rule: Rule) -> str | None:
    """A server that must be sent readings which could be rolled up otherwise."""
    oldest, newest = db.execute("SELECT min(id) >> 10, max(id) >> 10 FROM reading").fetchone()
    if oldest is None or oldest >= newest - rule.whole_s:
        return None
    sent = _sent(db)
    lacking = [sink for sink in rule.sinks if sink not in sent]
    lacking += [sink for sink, tick in sent.items() if tick < newest - rule.whole_s - ROLL_S]
    return min(lacking, default=None)


def _sent(db: sqlite3.Connection) -> dict[str, int]:
    """The tick up to which each server has been sent the readings."""
    return dict(db.execute("SELECT sink, position >> 10 FROM cursor WHERE stream = ?", (READINGS,)))


def _end(
    db: sqlite3.Connection, boot: str, now_tick: int, rule: Rule, stays: Sequence[Ticks]
) -> int:
    """The tick before which readings are old enough, sent everywhere, and of a clock that nobody
    will correct any more. The newest reading always stays, for the count of ticks goes on from it.
    """
    sent = _sent(db)
    waits = db.execute(
        "SELECT min(first_tick) FROM clock_span WHERE boot = ? AND NOT trusted", (boot,)
    ).fetchone()[0]
    newest = db.execute("SELECT max(id) >> 10 FROM reading").fetchone()[0]
    ends = [
        now_tick - rule.whole_s,
        newest or 0,
        ENDLESS if waits is None else waits,
        *sent.values(),
        *(0 for sink in rule.sinks if sink not in sent),
        *(first for first, last in stays if last == ENDLESS),
    ]
    return max(0, min(ends)) // ROLL_S * ROLL_S


def _next_free(
    db: sqlite3.Connection, begun: int, end: int, stays: Sequence[Ticks]
) -> tuple[int, int]:
    """The next ticks with readings that need not stay; none of them when the last is before the
    first, and then all up to the last was gone through.
    """
    tick = begun
    while True:
        row = db.execute(NEXT, (tick * SERIES,)).fetchone()
        if row is None or row[0] >= end:
            return end, end - 1
        tick = row[0]
        number = bisect_left(stays, tick, key=lambda ticks: ticks[1])
        before = stays[number - 1][1] + 1 if number else 0
        # Where a roll-up begins does not depend on where the work was broken off.
        free = max(begun, before, tick // ROLL_S * ROLL_S)
        if number == len(stays) or stays[number][0] >= end:
            return free, end - 1
        first, last = stays[number]
        if tick < first:
            return free, first - 1
        tick = last + 1


def _most(db: sqlite3.Connection, first: int) -> int:
    """The last tick of as many whole roll-ups from there as one transaction shall hold."""
    row = db.execute(f"{NEXT} OFFSET ?", (first * SERIES, MOST_ROWS)).fetchone()
    if row is None:
        return ENDLESS
    return max(int(row[0]) // ROLL_S, first // ROLL_S + 1) * ROLL_S - 1


def _pieces(db: sqlite3.Connection, first: int, last: int) -> Iterator[Ticks]:
    """The ticks cut where the clock or the calibration of a probe changes, so that the extremes of
    a roll-up have one time and one meaning.
    """
    asked = """SELECT first_tick FROM clock_span WHERE first_tick > :first AND first_tick <= :last
        UNION SELECT tick FROM calibration WHERE tick > :first AND tick <= :last ORDER BY 1"""
    cuts = [cut for (cut,) in db.execute(asked, {"first": first, "last": last})]
    yield from zip([first, *cuts], [*(cut - 1 for cut in cuts), last], strict=True)


def _gather(db: sqlite3.Connection, first: int, last: int) -> int:
    db.execute(GATHER, {"first": first, "end": last + 1})
    done = db.execute(
        "DELETE FROM reading WHERE id >= ? AND id < ?", (first * SERIES, (last + 1) * SERIES)
    )
    return done.rowcount


def _ticks_of(db: sqlite3.Connection, windows_s: Sequence[Ticks]) -> Iterator[Ticks]:
    """The ticks of every span whose clock showed a time in one of these windows [Unix time, s]."""
    known = spans(db)
    ends = [following.first_tick - 1 for following in known[1:]] + [ENDLESS]
    for span, end in zip(known, ends, strict=True):
        begun_s = span.wall_s + span.first_tick
        number = bisect_left(windows_s, begun_s, key=lambda window: window[1])
        for first_s, last_s in windows_s[number:]:
            first = max(span.first_tick, first_s - span.wall_s)
            if first > end:
                break
            yield first, ENDLESS if last_s == ENDLESS else min(end, last_s - span.wall_s)


def _merged(ranges: Iterable[Ticks]) -> list[Ticks]:
    """The same in order, with those that touch or overlap as one."""
    found: list[Ticks] = []
    for first, last in sorted(ranges):
        if found and first <= found[-1][1] + 1:
            found[-1] = found[-1][0], max(found[-1][1], last)
        else:
            found.append((first, last))
    return found
