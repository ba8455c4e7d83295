"""How a copy of a data file comes about: whole, or out of an older copy by writing what differs.

A copy of years is gigabytes, and what a day adds to it some megabytes: to write all of it anew each
night would wear out the card.
"""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from noonpot.errors import StoreError
from noonpot.ports import Clock, Signal
from noonpot.store.drill import BY_TICK, TABLES, Sums, bounds, parts, rows, sums_of
from noonpot.store.migrations import applied

# So many pages are copied and brought onto the card at once, 1 MB, and so long is the pause behind:
# the card is then free again for whoever waits to write (tests/bench/backup_cost.py). [s]
STEP_PAGES = 256
PAUSE_S = 0.05
GOING = "the backup was broken off, for Noonpot ends; it is made later"


def copied(old: sqlite3.Connection, target: Path, clock: Clock, stop: Signal) -> None:
    """SQLite's own copy, within one view of the source: what is written meanwhile does not make it
    begin anew, and it holds nobody up.
    """
    with _filling(target, clock, stop) as (new, rest):
        old.backup(new, pages=STEP_PAGES, progress=lambda *_: rest())


def renewed(
    old: sqlite3.Connection, spare: Path, part: Path, clock: Clock, stop: Signal
) -> Sums | None:
    """Make the copy out of an older one; None when that one is no good for it."""
    spare.replace(part)
    try:
        with _filling(part, clock, stop) as (new, rest):
            new.execute("BEGIN")
            wanted = _renew(old, new, rest)
            new.execute("COMMIT")
            return wanted
    except sqlite3.DatabaseError as error:
        if stop.is_set():
            raise StoreError(GOING) from error
        return None


@contextmanager
def _filling(
    target: Path, clock: Clock, stop: Signal
) -> Iterator[tuple[sqlite3.Connection, Callable[[], None]]]:
    """A connection that fills a copy, and what brings onto the card what was written so far."""
    with closing(sqlite3.connect(target, isolation_level=None)) as new:
        new.execute("PRAGMA journal_mode = OFF")  # a copy that breaks off is thrown away
        new.execute("PRAGMA synchronous = OFF")
        new.execute("PRAGMA secure_delete = OFF")  # Debian's SQLite writes zeros over what goes
        with target.open("rb") as written:

            def rest() -> None:
                os.fsync(written)  # else the next reading waits for all of it at once
                if clock.wait(stop, PAUSE_S):
                    raise StoreError(GOING)

            yield new, rest


def _renew(
    old: sqlite3.Connection, new: sqlite3.Connection, rest: Callable[[], None]
) -> Sums | None:
    """Make ``new`` hold what ``old`` does, within the transaction that it is in. Returns the sums
    of ``old``, None when the copy is of another shape. ``rest`` is called after each part.
    """
    if applied(old) != applied(new):
        return None
    found: dict[tuple[str, int], tuple[object, ...]] = {}
    for (table,) in old.execute(TABLES).fetchall():
        there = list(parts(old, table))
        for part in sorted({*there, *parts(new, table)}):
            wanted = sums_of(old, table, part)
            if part in there:
                found[table, part] = wanted
            if sums_of(new, table, part) != wanted:
                _replace(old, new, table, part)
                rest()
    return found


def _replace(old: sqlite3.Connection, new: sqlite3.Connection, table: str, part: int) -> None:
    if table in BY_TICK:
        new.execute(f"DELETE FROM {table} WHERE id >= ? AND id < ?", bounds(table, part))  # noqa: S608
    else:
        new.execute(f"DELETE FROM {table}")  # noqa: S608  a name out of the file's own list
    width = len(new.execute("SELECT 1 FROM pragma_table_info(?)", (table,)).fetchall())
    marks = ", ".join("?" * width)
    new.executemany(f"INSERT INTO {table} VALUES ({marks})", rows(old, table, part))  # noqa: S608
