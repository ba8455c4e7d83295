"""Connections to the data file: none takes the locks of another away, and none is left behind."""

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.errors import StoreDamagedError
from noonpot.store.connection import examine, open_to_write, reading
from noonpot.store.reader import Reader
from store.shelf import START, opened, write_reading

WRITER = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("CREATE TABLE more (id INTEGER)")
print("there", flush=True)
sys.stdin.readline()
db.close()
"""
VISITOR = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
print(db.execute("SELECT count(*) FROM reading").fetchone()[0])
db.close()
"""


def visited(path: Path) -> int:
    """Another program opens the file by itself and closes it, as the sqlite3 shell does. Returns
    how many readings it saw.
    """
    told = subprocess.run(
        [sys.executable, "-c", VISITOR, str(path)], capture_output=True, check=True, timeout=60
    )
    return int(told.stdout)


def open_files(path: Path) -> int:
    """How often this process holds the file open."""
    found = 0
    for each in Path("/proc/self/fd").iterdir():
        try:
            found += each.readlink() == path.resolve()
        except FileNotFoundError:  # that of the folder itself
            continue
    return found


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "noonpot.db"


def test_a_look_by_the_writer_leaves_it_its_locks_so_no_visitor_deletes_its_log(
    path: Path,
) -> None:
    """POSIX: when a process closes a file, all locks go that it had on it, whoever took them."""
    clock = FakeClock(START)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(2), 20.0)
        log = path.with_name("noonpot.db-wal").stat().st_ino
        Reader(path, clock)  # as the lessons do in the daemon
        assert visited(path) == 1
        assert path.with_name("noonpot.db-wal").stat().st_ino == log
        write_reading(store, clock.advance(2), 21.0)
        assert visited(path) == 2


def test_a_look_holds_its_own_lock_until_it_has_seen_all(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reader, too, could lose it to its own plain look at the header."""
    opened(path, FakeClock(START)).close()
    log, looked = path.with_name("noonpot.db-wal"), False
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "there\n"

        def look(_db: sqlite3.Connection, _path: Path) -> None:
            nonlocal looked
            writer.communicate("\n", timeout=60)
            assert log.exists(), "the writer ended and took the log away that is being read"
            looked = True

        monkeypatch.setattr("noonpot.store.connection.refuse_newer", look)
        examine(path)
    assert looked


def test_a_file_that_was_closed_is_looked_at_by_its_bytes_again(path: Path) -> None:
    clock = FakeClock(START)
    opened(path, clock).close()
    body = bytearray(path.read_bytes())
    body[18] = 7
    path.write_bytes(body)
    with pytest.raises(StoreDamagedError, match="its header"):
        Reader(path, clock)


def test_a_damaged_file_is_not_held_open(path: Path) -> None:
    path.write_bytes(b"no data file at all " * 1000)
    with pytest.raises(StoreDamagedError) as writing:
        open_to_write(path)
    with pytest.raises(StoreDamagedError) as looking, reading(path):
        pass
    assert [writing.traceback, looking.traceback]  # they keep all that was not closed alive
    assert open_files(path) == 0
