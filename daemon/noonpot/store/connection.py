"""Opening the data file: its lock, its checks, and the words for what goes wrong."""

import errno
import fcntl
import os
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
SHARED_BYTES = 32_768  # sqlite.org/walformat.html#shm
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
# What the system says of a file where SQLite is not asked, by SQLite's name for the same.
ERRNOS = {
    errno.ENOSPC: "SQLITE_FULL",
    errno.EDQUOT: "SQLITE_FULL",
    errno.EROFS: "SQLITE_READONLY",
    errno.EIO: "SQLITE_IOERR",
}
CHECK_EVERY = 100_000
"""Steps of SQLite between two looks at whether a long check shall end, about a hundredth second."""
_WRITTEN_HERE: dict[Path, sqlite3.Connection] = {}
"""What this process writes now. It is opened by SQLite alone: when a process closes a file, POSIX
drops all locks that it had on it, and a visitor may then delete the log under the writer."""


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite says into a StoreError that tells what to do."""
    try:
        yield
    except StoreError:
        raise
    except OSError as error:
        name = ERRNOS.get(error.errno or 0, "SQLITE_CANTOPEN")
        kind = FAILURES.get(name, StoreError)
        raise kind(f"data file {path}: {error.strerror}; {CURES[name]}") from error
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", None) or type(error).__name__
        if name.startswith(("SQLITE_IOERR", "SQLITE_CANTOPEN")) and _full(path):
            name = "SQLITE_FULL"
        cure = next(
            (cure for known, cure in CURES.items() if name.startswith(known)), "see the log"
        )
        kind = next((k for known, k in FAILURES.items() if name.startswith(known)), StoreError)
        raise kind(f"data file {path}: {error}; {cure}") from error


def _full(path: Path) -> bool:
    """Whether the card has no room for the memory that SQLite's readers share: where that cannot be
    made, SQLite speaks of input and output.
    """
    try:
        card = os.statvfs(path.parent)
    except OSError:
        return False
    return card.f_bavail * card.f_frsize < SHARED_BYTES


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


def take_back_half(path: Path) -> None:
    """Let SQLite undo what the power broke off while it turned a file that was not written in this
    way yet, a restored one say, into one with a log. Only whoever may write can do that, so it is
    done before anybody reads; the caller holds the lock.

    Raises StoreError.
    """
    if path.with_name(f"{path.name}-journal").exists():
        with explained(path), closing(_connect(path.absolute().as_uri())) as db:
            db.execute("SELECT 1 FROM sqlite_schema").fetchone()


def examine(path: Path, *, whole: bool = True, stop: Signal | None = None) -> None:
    """Look at a file without touching it; an empty one is all right. Only a look at the ``whole``
    finds damage before it is met, and takes seconds to minutes for years of readings; ``stop`` ends
    it.

    Raises NewerStoreError when it is from a newer version, StoreDamagedError when it is damaged or
    is no data file of Noonpot, StoreError when it cannot be read.
    """
    known = _has_known_header(path)  # first: it costs the locks of a connection
    with reading(path) as db:
        if stop is not None:
            db.set_progress_handler(stop.is_set, CHECK_EVERY)
        if not db.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone():
            return
        if not known and not _log_holds_first_page(path):
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


def _has_known_header(path: Path) -> bool:
    """Whether the file says that it is written in a way SQLite knows; else that takes it for one of
    its future. One that this process writes is known; of one that is empty or cannot be read SQLite
    speaks itself.
    """
    if path.resolve() in _WRITTEN_HERE:
        return True
    try:
        with path.open("rb") as file:
            return file.read(19)[18:] in (b"", b"\1", b"\2")
    except OSError:
        return True


def _log_holds_first_page(path: Path) -> bool:
    """Whether the first page, and with it the header, is read from the log: then the one in the
    file counts for nothing. A power cut while the log was merged may have left half of it.

    Layout: sqlite.org/fileformat2.html#walformat.
    """
    try:
        with path.with_name(f"{path.name}-wal").open("rb") as log:
            header = log.read(32)
            page_bytes, salts, found = int.from_bytes(header[8:12], "big"), header[16:24], False
            while (frame := log.read(24))[8:16] == salts != b"":
                found |= int.from_bytes(frame[:4], "big") == 1
                if found and any(frame[4:8]):  # the end of a transaction
                    return True
                log.seek(page_bytes, os.SEEK_CUR)
    except FileNotFoundError:
        pass
    return False


def open_to_write(path: Path) -> sqlite3.Connection:
    """The one connection that writes, until ``close_written``; several threads may use it, one at a
    time.

    Raises StoreError.
    """
    with explained(path):
        db = _connect(path.absolute().as_uri())
        _WRITTEN_HERE[path.resolve()] = db
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = FULL")
            db.execute(f"PRAGMA journal_size_limit = {JOURNAL_BYTES}")
            db.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            close_written(db, path)
            raise
        return db


def close_written(db: sqlite3.Connection, path: Path) -> None:
    """Close the connection that writes; once more does no harm."""
    db.close()
    if _WRITTEN_HERE.get(path.resolve()) is db:
        del _WRITTEN_HERE[path.resolve()]


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
    except BaseException:
        db.close()
        raise
    return db


def _connect(uri: str) -> sqlite3.Connection:
    db = sqlite3.connect(
        uri, uri=True, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False
    )
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA mmap_size = 0")
    return db
