"""Readings and faults of the probes: written by the round as a probe gave them, read by probe or by
cooker as its calibration makes them.
"""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from noonpot.core.moment import Moment
from noonpot.core.readings import Fault, FaultKind, Reading, Role, Sample
from noonpot.core.station import ProbeSpec
from noonpot.errors import StoreError
from noonpot.store.calibrations import STEPS_PER_UNIT, Lines
from noonpot.store.timeline import Span, Stretch, stretches

# The id of a reading is tick * SERIES + series.
SERIES = 1024
LARGEST = 1e6
RECOVERED = ""


@dataclass(frozen=True, slots=True)
class Value:
    """One reading of a cooker's probe, for an export."""

    at: datetime
    series: int
    role: Role
    shared: bool
    value: float


def register(db: sqlite3.Connection, probes: Sequence[ProbeSpec]) -> dict[str, int]:
    """The number of each probe's series.

    A probe that moves to another role or cooker begins a new series, so that what it said before
    keeps its meaning.
    """
    numbers = {}
    for probe in probes:
        key = (probe.name, probe.role, probe.cooker or "")
        db.execute("INSERT OR IGNORE INTO series (probe, role, cooker) VALUES (?, ?, ?)", key)
        numbers[probe.name] = int(
            db.execute(
                "SELECT id FROM series WHERE probe = ? AND role = ? AND cooker = ?", key
            ).fetchone()[0]
        )
    return numbers


def write(
    db: sqlite3.Connection, span: Span, numbers: Mapping[str, int], samples: Sequence[Sample]
) -> int | None:
    """Write the samples of a round; of two readings of one probe in one second the last stays.

    Of faults only a change is written, and the first reading after one. Returns the smallest id of
    a reading, None without one. Raises StoreError for a probe that is not registered and for a
    value that is no number.
    """
    kinds: dict[int, str] = {}
    rows: dict[int, int] = {}
    for sample in samples:
        if sample.probe not in numbers:
            raise StoreError(
                f"probe {sample.probe!r} is not registered; register it before writing"
            )
        series = numbers[sample.probe]
        tick = span.tick_of(sample.mono_s)
        if isinstance(sample, Reading):
            rows[tick * SERIES + series] = _steps(sample)
            kind, detail = RECOVERED, ""
        else:
            kind, detail = str(sample.kind), sample.detail
        if kind != kinds.setdefault(series, _last_kind(db, series)):
            db.execute(
                "INSERT OR REPLACE INTO fault (series, tick, kind, detail) VALUES (?, ?, ?, ?)",
                (series, tick, kind, detail),
            )
            kinds[series] = kind
    db.executemany("INSERT OR REPLACE INTO reading (id, value) VALUES (?, ?)", rows.items())
    return min(rows, default=None)


def of_probe(
    db: sqlite3.Connection,
    probe: str,
    since: datetime,
    until: datetime,
    boot: str,
    now: Moment,
    *,
    raw: bool = False,
) -> list[Sample]:
    """Readings, and faults where they changed, in time order; on the monotonic clock of ``now``.
    ``raw`` ones are not corrected.
    """
    return in_stretches(db, probe, stretches(db, since, until), boot, now, raw=raw)


def in_stretches(
    db: sqlite3.Connection,
    probe: str,
    ticks: Iterable[Stretch],
    boot: str,
    now: Moment,
    *,
    raw: bool = False,
) -> list[Sample]:
    """The same, for some stretches of ticks."""
    lines = None if raw else Lines(db)
    series = [row[0] for row in db.execute("SELECT id FROM series WHERE probe = ?", (probe,))]
    found: list[Sample] = []
    for stretch in ticks:
        span = stretch.span
        mono_s = span.shift_s(boot, now) - span.zero
        for number in series:
            found += [
                Reading(
                    probe,
                    span.at(tick),
                    tick + mono_s,
                    lines.value(number, tick, value) if lines else value / STEPS_PER_UNIT,
                )
                for tick, value in _readings(db, stretch, number)
            ]
            found += [
                Fault(probe, span.at(tick), tick + mono_s, FaultKind(kind), detail)
                for tick, kind, detail in _faults(db, stretch, number)
            ]
    return sorted(found, key=lambda sample: sample.at)


def of_cooker(db: sqlite3.Connection, cooker: str, since: datetime, until: datetime) -> list[Value]:
    """All readings that tell about a cooker, those of shared probes included, in time order."""
    lines = Lines(db)
    values = [
        Value(
            stretch.span.at(row["tick"]),
            row["series"],
            Role(row["role"]),
            row["cooker"] == "",
            lines.value(row["series"], row["tick"], row["value"]),
        )
        for stretch in stretches(db, since, until)
        # A cross join keeps SQLite from going through the readings once for each probe.
        for row in db.execute(
            "SELECT reading.id >> 10 AS tick, series.id AS series, role, cooker, value"
            " FROM reading CROSS JOIN series ON series.id = reading.id & 1023"
            " WHERE reading.id BETWEEN ? AND ? AND cooker IN (?, '') ORDER BY reading.id",
            (*_ids(stretch), cooker),
        )
    ]
    return sorted(values, key=lambda value: value.at)


def _steps(reading: Reading) -> int:
    if not abs(reading.value) < LARGEST:  # true for a NaN, too
        raise StoreError(
            f"reading {reading.value} of probe {reading.probe!r} is no measurement; "
            "the driver must report a fault instead"
        )
    return round(reading.value * STEPS_PER_UNIT)


def _last_kind(db: sqlite3.Connection, series: int) -> str:
    row = db.execute(
        "SELECT kind FROM fault WHERE series = ? ORDER BY tick DESC LIMIT 1", (series,)
    ).fetchone()
    return row[0] if row else RECOVERED


def _ids(stretch: Stretch) -> tuple[int, int]:
    return stretch.first * SERIES, stretch.last * SERIES + SERIES - 1


def _readings(db: sqlite3.Connection, stretch: Stretch, series: int) -> sqlite3.Cursor:
    return db.execute(
        "SELECT id >> 10, value FROM reading WHERE id BETWEEN ? AND ? AND id & 1023 = ?",
        (*_ids(stretch), series),
    )


def _faults(db: sqlite3.Connection, stretch: Stretch, series: int) -> sqlite3.Cursor:
    return db.execute(
        "SELECT tick, kind, detail FROM fault"
        " WHERE series = ? AND tick BETWEEN ? AND ? AND kind <> ?",
        (series, stretch.first, stretch.last, RECOVERED),
    )
