"""Opening the data file: its lock, its checks, and the words for what goes wrong."""

import fcntl
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import IO

from noonpot.errors import (
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreUnwritableError,
)
from noonpot.ports import Signal
from noonpot.store.migrations import APPLICATION_ID, refuse_newer

BUSY_TIMEOUT_S = 5.0
JOURNAL_BYTES = 8 * 1024 * 1024
FILE_MODE = 0o640

# What a person can do, by the name that SQLite gives the failure (its beginning is enough).
CURES = {
    "SQLITE_FULL": "the card is full: free some space",
    "SQLITE_READONLY": "the card can no longer be written (worn out, or no permission): check it",
    "SQLITE_IOERR": "the card fails (worn out?): replace it",
    "SQLITE_CORRUPT": "the file is damaged: move it aside and restore a backup",
    "SQLITE_NOTADB": "the file is damaged or no data file: move it aside and restore a backup",
    "SQLITE_CANTOPEN": "check that its folder is there and may be read and written",
    "SQLITE_BUSY": "another program holds it: close that program",
    "SQLITE_INTERRUPT": "Noonpot ends meanwhile",
    "SQLITE_ERROR": "what stands in it is not what belongs there: it may be damaged",
}
FAILURES = {
    "SQLITE_FULL": StoreFullError,
    "SQLITE_READONLY": StoreUnwritableError,
    "SQLITE_IOERR": StoreUnwritableError,
    "SQLITE_CORRUPT": StoreDamagedError,
    "SQLITE_NOTADB": StoreDamagedError,
    "SQLITE_ERROR": StoreDamagedError,  # a table is not there, or not as it was made
    "SQLITE_CONSTRAINT": StoreDamagedError,
    "SQLITE_MISMATCH": StoreDamagedError,
    "OperationalError": StoreDamagedError,  # a text that is none
}
CHECK_EVERY = 100_000
"""Steps of SQLite between two looks at whether a long check shall end, about a hundredth second."""


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite says into a StoreError that tells what to do."""
    try:
        yield
    except StoreError:
        raise
    except OSError as error:
        raise StoreError(
            f"data file {path}: {error.strerror}; {CURES['SQLITE_CANTOPEN']}"
        ) from error
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", None) or type(error).__name__
        cure = next(
            (cure for known, cure in CURES.items() if name.startswith(known)), "see the log"
        )
        kind = next((k for known, k in FAILURES.items() if name.startswith(known)), StoreError)
        raise kind(f"data file {path}: {error}; {cure}") from error


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that cannot write, for one short look: it sees one state of the file.

    Raises StoreError when the file cannot be read.
    """
    with explained(path), closing(_connect_to_read(path)) as db:
        yield db


def lock_of(path: Path) -> Path:
    """The file by whose lock a data file is held; it stays when that is given back."""
    return path.with_name(path.name + ".lock")


def lock(path: Path) -> IO[bytes]:
    """Make sure that this process alone writes the file, until what is returned is closed. A file
    that was not there is there then, empty.

    SQLite would let two processes take turns, but releases before 3.51.3 can then damage the file
    (its "WAL-reset" fault), and two watchers would tell every alarm twice. Raises StoreError.
    """
    with explained(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        held = lock_of(path).open("ab")
        path.touch(FILE_MODE)  # SQLite gives the files beside it the same permissions
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            held.close()
            raise StoreError(
                f"data file {path} is in use by another noonpot; "
                "stop that one, or name another file"
            ) from None
        return held


def held(path: Path) -> bool:
    """Whether a process writes the file now, see ``lock``. Raises StoreError."""
    beside = path.with_name(path.name + ".lock")
    with explained(path):
        if not beside.exists():
            return False
        with beside.open("rb") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
            except BlockingIOError:
                return True
        return False


def examine(path: Path, *, whole: bool = True, stop: Signal | None = None) -> None:
    """Look at a file without touching it; an empty one is all right. Only a look at the ``whole``
    finds damage before it is met, and takes seconds to minutes for years of readings; ``stop`` ends
    it.

    Raises NewerStoreError when it is from a newer version, StoreDamagedError when it is damaged or
    is no data file of Noonpot, StoreError when it cannot be read.
    """
    with reading(path) as db:
        if stop is not None:
            db.set_progress_handler(stop.is_set, CHECK_EVERY)
        if not db.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone():
            return
        with path.open("rb") as file:
            if file.read(19)[18] not in (1, 2):  # SQLite would take it for a file of its future
                raise StoreDamagedError(
                    f"data file {path} is damaged (its header); move it aside and restore a backup"
                )
        (application,) = db.execute("PRAGMA application_id").fetchone()
        if application != APPLICATION_ID:
            raise StoreDamagedError(f"{path} is not a data file of Noonpot; name another file")
        refuse_newer(db, path)
        if not whole:
            return
        # The quick check of SQLite leaves out indexes, and there are only small ones here.
        (verdict,) = db.execute("PRAGMA integrity_check(1)").fetchone()
        if verdict != "ok":
            raise StoreDamagedError(
                f"data file {path} is damaged ({' '.join(verdict.split())}); "
                "move it aside and restore a backup"
            )


def open_to_write(path: Path) -> sqlite3.Connection:
    """The one connection that writes; several threads may use it, one at a time.

    Raises StoreError.
    """
    with explained(path):
        db = _connect(path.absolute().as_uri())
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute(f"PRAGMA journal_size_limit = {JOURNAL_BYTES}")
        db.execute("PRAGMA foreign_keys = ON")
        return db


def _connect_to_read(path: Path) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode=ro"
    db = _connect(uri)
    try:
        db.execute("BEGIN")
        db.execute("SELECT 1 FROM sqlite_schema").fetchone()
    except sqlite3.OperationalError:
        db.close()
        if path.with_name(f"{path.name}-wal").exists():
            raise
        # Nobody writes, and this user may not make the files of a writer: read it as it lies there.
        db = _connect(f"{uri}&immutable=1")
    return db


def _connect(uri: str) -> sqlite3.Connection:
    db = sqlite3.connect(
        uri, uri=True, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False
    )
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA mmap_size = 0")
    return db
