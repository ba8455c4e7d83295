"""Two data files held against each other, row by row: so a copy is known to hold all.

Of each table there are counts and sums over its rows. Readings are many, so they have a sum for
each day of ticks that SQLite makes by itself; a change of one row shows, one made to deceive might
not.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from hashlib import blake2b

from noonpot.errors import StoreError
from noonpot.store.samples import SERIES

# Tables by tick, and so many ids of each are looked at as one.
BY_TICK = {"reading": 86_400 * SERIES, "rollup": 10 * 86_400 * SERIES}
TABLES = "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
SUMS = """SELECT count(*), min(id), max(id),
        sum((id % 1048573 + 1) * (value + 16777259) % 2147483647),
        sum((id / 1048573 * 69069 + id % 65521 * (value + 16777213)) % 2147483629)
    FROM reading WHERE id >= ? AND id < ?"""
NEXT = "SELECT id FROM {} WHERE id >= ? ORDER BY id LIMIT 1"

Sums = Mapping[tuple[str, int], tuple[object, ...]]
"""Counts and sums by table and number of the part."""


def sums(db: sqlite3.Connection) -> Sums:
    """Those of all tables of a file; it takes as long as reading it."""
    return {
        (table, part): sums_of(db, table, part)
        for (table,) in db.execute(TABLES).fetchall()
        for part in parts(db, table)
    }


def sums_of(db: sqlite3.Connection, table: str, part: int) -> tuple[object, ...]:
    """Those of one part of a table."""
    if table == "reading":
        return tuple(db.execute(SUMS, bounds(table, part)).fetchone())
    count, found = 0, blake2b(digest_size=16)
    for row in rows(db, table, part):
        count += 1
        found.update(repr(tuple(row)).encode("utf-8", "surrogatepass"))
    return count, found.hexdigest()


def parts(db: sqlite3.Connection, table: str) -> Iterator[int]:
    """The numbers of the parts of a table in which there are rows; one that is not kept by ticks
    has one part.
    """
    if table not in BY_TICK:
        yield 0
        return
    size, number = BY_TICK[table], 0
    while True:
        row = db.execute(NEXT.format(table), (number * size,)).fetchone()
        if row is None:
            return
        number = row[0] // size
        yield number
        number += 1


def rows(db: sqlite3.Connection, table: str, part: int) -> sqlite3.Cursor:
    """The rows of one part of a table."""
    if table in BY_TICK:
        ranged = f"SELECT * FROM {table} WHERE id >= ? AND id < ? ORDER BY id"  # noqa: S608  ours
        return db.execute(ranged, bounds(table, part))
    return db.execute(f"SELECT * FROM {table}")  # noqa: S608  a name out of the file's own list


def bounds(table: str, part: int) -> tuple[int, int]:
    """From which id on, and before which, a part goes."""
    return part * BY_TICK[table], (part + 1) * BY_TICK[table]


def compare(wanted: Sums, found: Sums) -> None:
    """Raise StoreError, which names the table, when they differ."""
    strange = sorted(
        key for key in wanted.keys() | found.keys() if wanted.get(key) != found.get(key)
    )
    if strange:
        table, part = strange[0]
        raise StoreError(
            f"the copy is not equal to what was copied (table {table}, part {part}: "
            f"{found.get(strange[0])} instead of {wanted.get(strange[0])}); it is thrown away"
        )
