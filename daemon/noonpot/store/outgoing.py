"""What still has to go to a time-series server, with a cursor for each server.

Readings, events and forecasts have numbers that grow, so one position in each is the whole account.
What could leave a row unsent behind the position, or wrong on the server, is met:

- A reading that comes late, or a second one in the same second, lands at or before the position.
  ``rewind`` sets it back then, and also the one that waits for the server's answer. What goes out
  twice is one point to the server: the same tags, the same time.
- A clock that is set changes the time of rows already written. So rows of this boot wait until its
  clock is trusted. Those of a boot that never learned the time go with the best time there is, for
  nobody will correct them any more. Hence no row changes its time after it went.
- An event can be taken back for a minute, see ``takeback``. So it goes after that.
- A server that is killed forgets what it took last: VictoriaMetrics 1.79 that of more than 6 s,
  less than 12 s, measured. So every row goes twice, the second time more than a minute after the
  first. Only then does the position in the file move; after a start all behind it goes anew.
"""

import sqlite3
from collections.abc import Mapping, Sequence

from noonpot.core.moment import Moment, iso
from noonpot.store.calibrations import Lines
from noonpot.store.passes import Passes, Positions
from noonpot.store.points import POINTS, Point, Times
from noonpot.store.streams import END, FORECASTS, READINGS, STREAMS, first_of, tick_of

__all__ = ("Outgoing", "Point")

# Counting more rows than this takes longer than anybody cares about the number.
COUNT_UP_TO = 10_000
NEWEST_EVENT = "SELECT coalesce(max(id), -1) FROM event"
# Of a span of this boot that is not trusted yet, and of all after it, nothing goes.
UNTRUSTED = "SELECT min(first_tick) FROM clock_span WHERE boot = ? AND NOT trusted"

Rows = list[tuple[str, sqlite3.Row]]


class Outgoing:
    """The account of what was fetched and what arrived. Not safe for threads by itself."""

    def __init__(self, boot: str) -> None:
        self._boot = boot
        self._passes: dict[str, Passes] = {}

    def take(self, db: sqlite3.Connection, sink: str, limit: int) -> Sequence[Point]:
        """The next points for a server: half of them may be those that go for the second time.
        ``delivered`` must follow before the next ones are taken; without it the same points come
        again.
        """
        passes = self._of(db, sink)
        again = self._rows(db, _settled(db, sink), passes.ripe, limit)
        fresh = self._rows(db, passes.first, passes.open_ends(), limit)
        fresh = fresh[: max(limit - len(again), limit // 2)]
        again = again[: limit - len(fresh)]
        passes.flying = _ends(fresh), _ends(again)
        times, lines = Times(db), Lines(db)
        return [POINTS[stream](row, times, lines) for stream, row in [*again, *fresh]]

    def delivered(
        self, db: sqlite3.Connection, sink: str, refused: Sequence[tuple[str, str]], now: Moment
    ) -> None:
        """Move on behind what was taken; put ``refused`` lines aside with the server's reason."""
        passes = self._of(db, sink)
        for stream, position in passes.flying[1].items():
            db.execute(
                "INSERT OR REPLACE INTO cursor (sink, stream, position) VALUES (?, ?, ?)",
                (sink, stream, position),
            )
        (newest_event,) = db.execute(NEWEST_EVENT).fetchone()
        passes.landed(now.mono_s, newest_event)
        db.executemany(
            "INSERT OR IGNORE INTO quarantine (sink, line, reason, at) VALUES (?, ?, ?, ?)",
            [(sink, line, reason, iso(now.at)) for line, reason in refused],
        )

    def rewind(self, db: sqlite3.Connection, reading: int) -> None:
        """A reading of this id was written or corrected: it must lie ahead of every position. So
        must forecasts of then, which are written along with it.
        """
        before = {
            READINGS: reading - 1,
            FORECASTS: first_of(FORECASTS, tick_of(READINGS, reading)) - 1,
        }
        for stream, position in before.items():
            db.execute(
                "UPDATE cursor SET position = ?1 WHERE stream = ?2 AND position > ?1",
                (position, stream),
            )
        for passes in self._passes.values():
            passes.rewind(before)

    def waiting(self, db: sqlite3.Connection, sink: str) -> int:
        """How many points could go now that never went; counted up to 10 000 of a kind."""
        passes = self._of(db, sink)
        return sum(
            db.execute(
                f"SELECT count(*) FROM ({query})",  # noqa: S608, one of the queries there
                self._bounds(db, stream, passes.first, passes.open_ends(), COUNT_UP_TO),
            ).fetchone()[0]
            for stream, query in STREAMS.items()
        )

    def _of(self, db: sqlite3.Connection, sink: str) -> Passes:
        if sink not in self._passes:
            self._passes[sink] = Passes(_settled(db, sink))
        return self._passes[sink]

    def _rows(self, db: sqlite3.Connection, after: Positions, upto: Positions, limit: int) -> Rows:
        found: Rows = []
        for stream, query in STREAMS.items():
            bounds = self._bounds(db, stream, after, upto, limit - len(found))
            found += [(stream, row) for row in db.execute(query, bounds)]
        return found

    def _bounds(
        self, db: sqlite3.Connection, stream: str, after: Positions, upto: Positions, limit: int
    ) -> Mapping[str, int]:
        (untrusted,) = db.execute(UNTRUSTED, (self._boot,)).fetchone()
        return {
            "after": after.get(stream, -1),
            "upto": upto.get(stream, -1),
            "end": END,
            "untrusted": END if untrusted is None else untrusted,
            "limit": limit,
        }


def _settled(db: sqlite3.Connection, sink: str) -> Positions:
    return dict(
        db.execute("SELECT stream, position FROM cursor WHERE sink = ?", (sink,)).fetchall()
    )


def _ends(rows: Rows) -> Positions:
    """The last position of each stream."""
    return {stream: row["id"] for stream, row in rows}
