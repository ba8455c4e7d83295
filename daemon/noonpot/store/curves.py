"""Curves out of the readings, fast enough to be drawn while somebody waits.

A bin gives two points to each line, its smallest and its largest reading, in the order in which
they came: so a peak that a plain thinning would step over stays.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from math import ceil

from noonpot.core.curve import Curve
from noonpot.core.readings import Role
from noonpot.store.bins import Bins, Extremes, ids
from noonpot.store.calibrations import Lines
from noonpot.store.rollups import ROLL_S
from noonpot.store.samples import SERIES
from noonpot.store.timeline import stretches

NARROWEST_S = 10  # the probes of one round may be read some seconds apart
BRIDGED_S = 90  # what is missing for less than this is a hiccup, no gap

REACHED = """SELECT count(*) AS readings, min(CASE WHEN value >= ? THEN id >> 10 END) AS tick
    FROM reading WHERE id BETWEEN ? AND ? AND id & 1023 = ?"""
BELOW = REACHED.replace(">=", "<")

Moment = tuple[int, dict[Role, float]]


def curve(
    db: sqlite3.Connection, cooker: str, since: datetime, until: datetime, points: int
) -> Curve:
    """The lines of a cooker, ``since`` <= t <= ``until``, in about so many points."""
    known = [
        (row["id"], Role(row["role"]), row["cooker"])
        for row in db.execute(
            "SELECT id, role, cooker FROM series WHERE cooker IN (?, '')", (cooker,)
        )
    ]
    begin_s = int(since.timestamp())
    width_s = max(NARROWEST_S, ceil((until.timestamp() - begin_s) / max(1, points // 2)))
    bins = Bins(begin_s, width_s, [number for number, _, _ in known])
    every_s = bins.fill(db, list(stretches(db, since, until)))
    moments = list(
        _with_gaps(list(_moments(bins, known)), max(BRIDGED_S, 3 * width_s, 3 * every_s))
    )
    times_s = [at_s for at_s, _ in moments]
    bridged_s = max(BRIDGED_S, 2 * ROLL_S) if every_s >= ROLL_S else BRIDGED_S
    lines = {
        role: _bridged(times_s, [told.get(role) for _, told in moments], bridged_s) for role in Role
    }
    return Curve(cooker, since, until, times_s, lines, every_s)


def peak(db: sqlite3.Connection, cooker: str, since: datetime, until: datetime) -> float | None:
    """The highest that the core came to [°C], of several probes the coldest one's."""
    found, lines = [], Lines(db)
    pieces = list(lines.pieces(stretches(db, since, until)))
    for series in _cores(db, cooker):
        highest = [
            lines.value(series, piece.first, value)
            for piece in pieces
            for (value,) in db.execute(
                "SELECT max(value) FROM reading WHERE id BETWEEN ? AND ? AND id & 1023 = ?",
                (*ids(piece), series),
            )
            if value is not None
        ]
        found += [max(highest)] if highest else []
    return min(found, default=None)


def reached(
    db: sqlite3.Connection, cooker: str, temp_c: float, since: datetime, until: datetime
) -> datetime | None:
    """When the core first came to a temperature, of several probes the last one; None when any of
    them never did.
    """
    return _last_first(db, REACHED, cooker, temp_c, since, until)


def below(
    db: sqlite3.Connection, cooker: str, temp_c: float, since: datetime, until: datetime
) -> datetime | None:
    """When the core was first below a temperature, of several probes the last one; None when any
    of them never was.
    """
    return _last_first(db, BELOW, cooker, temp_c, since, until)


def _last_first(
    db: sqlite3.Connection, query: str, cooker: str, temp_c: float, since: datetime, until: datetime
) -> datetime | None:
    found: list[datetime | None] = []
    lines = Lines(db)
    pieces = list(lines.pieces(stretches(db, since, until)))
    for series in _cores(db, cooker):
        rows = [
            (piece, db.execute(query, (steps, *ids(piece), series)).fetchone())
            for piece in pieces
            for steps in [lines.steps(series, piece.first, temp_c)]
        ]
        if any(row["readings"] for _, row in rows):
            hits = [s.span.at(row["tick"]) for s, row in rows if row["tick"] is not None]
            found.append(min(hits, default=None))
    known = [at for at in found if at is not None]
    return max(known) if known and len(known) == len(found) else None


def last_values(
    db: sqlite3.Connection, since: datetime, until: datetime
) -> Iterator[tuple[str, float, datetime]]:
    """The last reading of each probe in a short time: its name, value [°C; W/m²] and time."""
    named = {row["id"]: row["probe"] for row in db.execute("SELECT id, probe FROM series")}
    newest: dict[str, tuple[float, datetime]] = {}
    lines = Lines(db)
    for stretch in stretches(db, since, until):
        for series, value, number in db.execute(
            "SELECT id & 1023 AS series, value, max(id) FROM reading WHERE id BETWEEN ? AND ?"
            " GROUP BY series",
            ids(stretch),
        ):
            tick = number // SERIES
            told = lines.value(series, tick, value), stretch.span.at(tick)
            if series in named:
                newest[named[series]] = told
    for probe, (value, at) in newest.items():
        yield probe, value, at


def _cores(db: sqlite3.Connection, cooker: str) -> list[int]:
    asked = "SELECT id FROM series WHERE role = ? AND cooker = ?"
    return [row["id"] for row in db.execute(asked, (Role.CORE, cooker))]


def _moments(bins: Bins, known: Iterable[tuple[int, Role, str]]) -> Iterator[Moment]:
    """One or two moments of each bin, in time order, with what each role showed then."""
    kinds = {number: (role, cooker == "") for number, role, cooker in known}
    by_bin: dict[int, dict[Role, Extremes]] = {}
    for (number, series), found in sorted(
        bins.found.items(), key=lambda item: kinds[item[0][1]][1]
    ):
        role, _ = kinds[series]
        told = by_bin.setdefault(number, {})
        if role not in told:
            told[role] = found  # that of the cooker itself before a shared one
        elif role is Role.CORE:  # of two the colder one decides
            told[role] = Extremes(min(told[role].low, found.low), min(told[role].high, found.high))
    for number in sorted(by_bin):
        told = by_bin[number]
        times_s = [at_s for e in told.values() for _, at_s in (e.low, e.high)]
        early: dict[Role, float] = {}
        late: dict[Role, float] = {}
        for role, extremes in told.items():
            ordered = sorted((extremes.low, extremes.high), key=lambda pair: pair[1])
            early[role], late[role] = (value for value, _ in ordered)
        yield min(times_s), early
        if max(times_s) > min(times_s) and early != late:
            yield max(times_s), late


def _with_gaps(moments: Sequence[Moment], gap_s: int) -> Iterator[Moment]:
    """The moments, with an empty one in each long silence."""
    yield from moments[:1]
    for (before_s, _), moment in pairwise(moments):
        if moment[0] - before_s > gap_s:
            yield before_s + 1, {}
        yield moment


def _bridged(times_s: list[int], line: list[float | None], bridged_s: int) -> list[float | None]:
    """The line with its short holes closed, such as a probe read just after the end of a bin, or
    the extremes of two probes at different times of one roll-up.
    """
    held = [i for i, value in enumerate(line) if value is not None]
    filled = list(line)
    for left, right in pairwise(held):
        low, high = line[left], line[right]
        span_s = times_s[right] - times_s[left]
        if right - left > 1 and span_s <= bridged_s and low is not None and high is not None:
            for i in range(left + 1, right):
                share = (times_s[i] - times_s[left]) / span_s
                filled[i] = round(low + share * (high - low), 2)
    return filled
