"""A cook that is under way, as whoever takes it up must know it.

All is told by the clock as it is now. What this boot wrote is found by the store's own count of
seconds, so a clock that was set back or forward meanwhile hides nothing and makes nothing longer or
shorter: food has stood for as long as it has stood.
"""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import replace

from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.readings import Sample
from noonpot.store import cooks, samples
from noonpot.store.timeline import ENDLESS, Span, Stretch, moment_of, spans, wall_now_s

EVENTS = """SELECT tick, span, kind, detail FROM event
    WHERE cooker = ? AND tick >= ? ORDER BY tick, id"""
AIM = """SELECT tick, span, kind, detail FROM event
    WHERE cooker = ? AND tick < ? AND kind = ? ORDER BY tick DESC, id DESC LIMIT 1"""


def running(db: sqlite3.Connection, boot: str, now: Moment) -> Sequence[Cook]:
    """The cooks that were not stopped."""
    clock = _clock(db, boot, now)
    return [_moved(db, cook, clock) for cook in cooks.running_cooks(db)]


def samples_of(
    db: sqlite3.Connection, cook: int, probe: str, boot: str, now: Moment
) -> Sequence[Sample]:
    """The readings of one probe since a cook began, faults where they changed, in their order."""
    return samples.in_stretches(db, probe, _since(db, _begun(db, cook), boot, now), boot, now)


def events_of(db: sqlite3.Connection, cook: Cook, boot: str, now: Moment) -> Sequence[Event]:
    """Where the cooker pointed before a cook, and the events of the cooker since it began."""
    clock, begun = _clock(db, boot, now), _begun(db, cook.id)
    rows = db.execute(AIM, (cook.cooker, begun, EventKind.AIM)).fetchall()
    rows += db.execute(EVENTS, (cook.cooker, begun)).fetchall()
    return [
        Event(
            cook.cooker,
            moment_of(clock[row["span"]] + row["tick"]),
            EventKind(row["kind"]),
            json.loads(row["detail"]),
        )
        for row in rows
    ]


def _begun(db: sqlite3.Connection, cook: int) -> int:
    row = db.execute("SELECT started_tick FROM cook WHERE id = ?", (cook,)).fetchone()
    return ENDLESS if row is None else int(row["started_tick"])


def _clock(db: sqlite3.Connection, boot: str, now: Moment) -> dict[int, int]:
    """The Unix time of tick 0 for each span, by its first tick [s]."""
    return {span.first_tick: span.wall_s for span in _told(db, boot, now)}


def _told(db: sqlite3.Connection, boot: str, now: Moment) -> list[Span]:
    """All spans, those of this boot by the clock as it is now."""
    known = spans(db)
    if not known or known[-1].boot != boot:
        return known
    wall_s = wall_now_s(known[-1], now)
    return [replace(span, wall_s=wall_s) if span.boot == boot else span for span in known]


def _since(db: sqlite3.Connection, tick: int, boot: str, now: Moment) -> Iterator[Stretch]:
    known = _told(db, boot, now)
    ends = [following.first_tick - 1 for following in known[1:]] + [ENDLESS]
    for span, end in zip(known, ends, strict=True):
        if end >= tick:
            yield Stretch(span, max(tick, span.first_tick), end)


def _moved(db: sqlite3.Connection, cook: Cook, clock: dict[int, int]) -> Cook:
    asked = "SELECT started_span, started_tick, load_span, load_tick FROM cook WHERE id = ?"
    row = db.execute(asked, (cook.id,)).fetchone()
    started_at = moment_of(clock[row["started_span"]] + row["started_tick"])
    if cook.load is None or row["load_span"] is None:
        return replace(cook, started_at=started_at)
    load = replace(cook.load, at=moment_of(clock[row["load_span"]] + row["load_tick"]))
    return replace(cook, started_at=started_at, load=load)
