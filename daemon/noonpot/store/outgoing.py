"""What still has to go to a time-series server, with a cursor for each server.

The ids of readings and of events grow, so one position in each is the whole account. Two things
could leave a row behind the position unsent; both are met:

- A reading that comes late, or a second one in the same second, lands at or before the position.
  ``rewind`` sets it back then, and also the one that waits for the server's answer. What goes out
  twice is one point to the server: the same tags, the same time.
- A clock that is set changes the time of rows already written. So rows of this boot wait until its
  clock is trusted. Those of a boot that never learned the time go with the best time there is, for
  nobody will correct them any more. Hence no row changes its time after it went.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from noonpot.core.readings import Role
from noonpot.store.calibrations import Lines

READINGS = "reading"
EVENTS = "event"
# Counting more rows than this takes longer than anybody cares about the number.
COUNT_UP_TO = 100_000

# Rows of a span of this boot that is not trusted yet, and all after them, wait.
NEXT_READINGS = """SELECT reading.id AS id, series.id AS series, probe, role, cooker, value,
        (reading.id >> 10) + (SELECT wall_s FROM clock_span
            WHERE first_tick <= reading.id >> 10 ORDER BY first_tick DESC LIMIT 1) AS at_s
    FROM reading CROSS JOIN series ON series.id = reading.id & 1023
    WHERE reading.id > :position AND reading.id < coalesce(
        (SELECT min(first_tick) << 10 FROM clock_span WHERE boot = :boot AND NOT trusted), :end)
    ORDER BY reading.id LIMIT :limit"""
NEXT_EVENTS = """SELECT id, cooker, kind, detail, wall_s + tick AS at_s
    FROM event JOIN clock_span ON first_tick = span
    WHERE id > :position AND id < coalesce(
        (SELECT min(id) FROM event JOIN clock_span ON first_tick = span
            WHERE id > :position AND boot = :boot AND NOT trusted), :end)
    ORDER BY id LIMIT :limit"""
END = (1 << 63) - 1


@dataclass(frozen=True, slots=True)
class Point:
    """One row as a time-series server takes it; ``at_ms`` is Unix time [ms]."""

    measurement: str
    tags: Mapping[str, str]
    fields: Mapping[str, float | str]
    at_ms: int


class Outgoing:
    """The account of what was fetched and what arrived. Not safe for threads by itself."""

    def __init__(self, boot: str) -> None:
        self._boot = boot
        self._in_flight: dict[str, dict[str, int]] = {}

    def take(self, db: sqlite3.Connection, sink: str, limit: int) -> Sequence[Point]:
        """The next points for a server, events first. ``delivered`` must follow before the next
        ones are taken; without it the same points come again.
        """
        events = self._rows(db, sink, EVENTS, limit)
        readings = self._rows(db, sink, READINGS, limit - len(events))
        self._in_flight[sink] = {
            stream: rows[-1]["id"]
            for stream, rows in ((EVENTS, events), (READINGS, readings))
            if rows
        }
        lines = Lines(db)
        return [*map(_event_point, events), *(_reading_point(row, lines) for row in readings)]

    def delivered(
        self, db: sqlite3.Connection, sink: str, refused: Sequence[tuple[str, str]], at: str
    ) -> None:
        """Move on behind what was taken; put ``refused`` lines aside with the server's reason."""
        for stream, position in self._in_flight.pop(sink, {}).items():
            db.execute(
                "INSERT OR REPLACE INTO cursor (sink, stream, position) VALUES (?, ?, ?)",
                (sink, stream, position),
            )
        db.executemany(
            "INSERT OR IGNORE INTO quarantine (sink, line, reason, at) VALUES (?, ?, ?, ?)",
            [(sink, line, reason, at) for line, reason in refused],
        )

    def rewind(self, db: sqlite3.Connection, reading: int) -> None:
        """A reading of this id was written or corrected: it must lie ahead of every position."""
        db.execute(
            "UPDATE cursor SET position = ? WHERE stream = ? AND position >= ?",
            (reading - 1, READINGS, reading),
        )
        for flying in self._in_flight.values():
            if READINGS in flying:
                flying[READINGS] = min(flying[READINGS], reading - 1)

    def waiting(self, db: sqlite3.Connection, sink: str) -> int:
        """How many points could go now; counted up to 100 000 of a kind."""
        return sum(
            db.execute(
                f"SELECT count(*) FROM ({query})",  # noqa: S608, one of the two queries above
                self._bounds(db, sink, stream, COUNT_UP_TO),
            ).fetchone()[0]
            for stream, query in ((EVENTS, NEXT_EVENTS), (READINGS, NEXT_READINGS))
        )

    def _rows(
        self, db: sqlite3.Connection, sink: str, stream: str, limit: int
    ) -> list[sqlite3.Row]:
        query = NEXT_EVENTS if stream == EVENTS else NEXT_READINGS
        return db.execute(query, self._bounds(db, sink, stream, limit)).fetchall()

    def _bounds(
        self, db: sqlite3.Connection, sink: str, stream: str, limit: int
    ) -> dict[str, str | int]:
        row = db.execute(
            "SELECT position FROM cursor WHERE sink = ? AND stream = ?", (sink, stream)
        ).fetchone()
        position = row["position"] if row else -1
        return {"boot": self._boot, "position": position, "limit": limit, "end": END}


def _reading_point(row: sqlite3.Row, lines: Lines) -> Point:
    value = lines.value(row["series"], row["id"] >> 10, row["value"])
    irradiance = row["role"] == Role.IRRADIANCE
    tags = {"probe": row["probe"], "role": row["role"], "cooker": row["cooker"]}
    return Point(
        "irradiance" if irradiance else "temperature",
        {key: value for key, value in tags.items() if value},
        {"w_per_m2" if irradiance else "celsius": value},
        row["at_s"] * 1000,
    )


def _event_point(row: sqlite3.Row) -> Point:
    """Events of one second are told apart by the milliseconds, made of their number.

    The detail goes as JSON: that is one line, whatever is in it.
    """
    return Point(
        "event",
        {"cooker": row["cooker"], "kind": row["kind"]},
        {"count": 1.0, "detail": row["detail"]},
        row["at_s"] * 1000 + row["id"] % 1000,
    )
