"""What a power cut leaves half written is taken back or done again, not taken for damage."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.errors import StoreDamagedError
from noonpot.store.mending import sound
from store.shelf import opened, write_reading


@pytest.mark.parametrize("log", [True, False])
def test_what_was_broken_off_is_undone_before_the_file_is_looked_at(
    tmp_path: Path, log: bool
) -> None:
    clock, path, cut = FakeClock(), tmp_path / "noonpot.db", tmp_path / "cut.db"
    begun = clock.moment().at
    with opened(path, clock) as store:
        write_reading(store, clock.moment(), 21.0)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("PRAGMA cache_size = 2")  # so that it writes before the end
        db.execute("BEGIN")
        db.executemany("INSERT INTO reading VALUES (?, 7)", ((n,) for n in range(1, 20_000)))
        for end in ("", "-journal"):
            shutil.copy(f"{path}{end}", f"{cut}{end}")
        db.execute("ROLLBACK")
    if log:
        Path(f"{cut}-wal").touch()
    with sound(cut, clock) as store:
        assert len(store.samples_of("box-pot", begun, clock.moment().at)) == 1
    assert not Path(f"{cut}-journal").exists()


def killed(path: Path, cut: Path, clock: FakeClock) -> None:
    """A data file, and a log with one reading, as a kill leaves them."""
    with opened(path, clock) as store:
        store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # noqa: SLF001
        write_reading(store, clock.moment(), 21.0)
        for end in ("", "-wal"):
            shutil.copy(f"{path}{end}", f"{cut}{end}")


def scramble(path: Path) -> None:
    """The first sector holds what nobody wrote."""
    with path.open("r+b") as file:
        file.write(b"\xa5" * 512)


def test_a_first_page_half_written_by_a_merge_is_taken_from_the_log(tmp_path: Path) -> None:
    clock, cut = FakeClock(), tmp_path / "cut.db"
    begun = clock.moment().at
    killed(tmp_path / "noonpot.db", cut, clock)
    with opened(cut, clock) as store:  # grows, so that the log holds the first page
        store.keep_sun_day("day", bytes(100_000))
        for end in ("", "-wal"):
            shutil.copy(f"{cut}{end}", f"{tmp_path / 'grown.db'}{end}")
    scramble(tmp_path / "grown.db")
    with sound(tmp_path / "grown.db", clock) as store:
        assert len(store.samples_of("box-pot", begun, clock.moment().at)) == 1
        assert store.sun_day("day") == bytes(100_000)


def test_a_first_page_that_the_log_does_not_hold_is_damaged(tmp_path: Path) -> None:
    clock, cut = FakeClock(), tmp_path / "cut.db"
    killed(tmp_path / "noonpot.db", cut, clock)
    scramble(cut)
    with pytest.raises(StoreDamagedError):
        sound(cut, clock)
