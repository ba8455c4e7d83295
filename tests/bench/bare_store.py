"""The floor under the store: SQLite's own insert of the same rows, and nothing around it."""

import sqlite3
from collections.abc import Iterable
from pathlib import Path

PRAGMAS = ("journal_mode = WAL", "synchronous = FULL")
TABLE = "CREATE TABLE IF NOT EXISTS reading (id INTEGER PRIMARY KEY, value INTEGER NOT NULL)"
INSERT = "INSERT INTO reading (id, value) VALUES (?, ?)"


class BareStore:
    """A file with one table, written with the pragmas of the store."""

    def __init__(self, path: Path) -> None:
        self._db = sqlite3.connect(path, isolation_level=None)
        for pragma in PRAGMAS:
            self._db.execute(f"PRAGMA {pragma}")
        self._db.execute(TABLE)

    def commit(self, rows: Iterable[tuple[int, int]]) -> None:
        """Write rows in one transaction."""
        self._db.execute("BEGIN")
        self._db.executemany(INSERT, rows)
        self._db.execute("COMMIT")

    def close(self) -> None:
        self._db.close()
