"""Backups: whole, proven, made while the store is written, thinned by age, and never too many."""

import os
import sqlite3
import threading
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Self

import pytest

from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.core.alert import Alert
from noonpot.core.cook import Event, EventKind
from noonpot.errors import NewerStoreError, StoreDamagedError, StoreError, StoreFullError
from noonpot.ports import Batch
from noonpot.store.backup import copies, copy, kept, make_room, place, thin
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from store.shelf import START, alert, opened, reading, write_reading

NEVER = threading.Event()
TABLES = ("reading", "event", "alert", "clock_span", "series", "migration", "start")
NIGHT = datetime(2026, 6, 3, 3, tzinfo=UTC)


def rows(path: Path) -> dict[str, Sequence[tuple[object, ...]]]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        return {table: db.execute(f"SELECT * FROM {table}").fetchall() for table in TABLES}  # noqa: S608


class Diary:
    """Writes batch n with reading, event and alert n, until it is told to stop."""

    def __init__(self, store: Store, clock: FakeClock) -> None:
        self.written = 0
        self._store = store
        self._clock = clock
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._write)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _write(self) -> None:
        while not self._stop.is_set():
            now = self._clock.advance(2)
            note = Event("box", now.at, EventKind.NOTE, {"number": str(self.written)})
            told: list[Alert] = [alert(str(self.written), now)]
            self._store.write(now, Batch([reading(now, 50.0)], [note], alerts=told))
            self.written += 1


def test_a_running_store_is_copied_as_it_was_at_one_moment(tmp_path: Path) -> None:
    source, target, clock = tmp_path / "noonpot.db", tmp_path / "elsewhere.db", FakeClock()
    with opened(source, clock) as store:
        for number in range(3000):
            store.write(clock.advance(2), Batch([reading(clock.moment(), number % 90)]))
        with Diary(store, clock) as diary:
            while diary.written < 20:
                NEVER.wait(0.01)
            before = diary.written
            copy(source, target, SystemClock(), NEVER)
            after = diary.written
        there, here = rows(target), rows(source)
    assert after > before, "nothing was written meanwhile: the test shows nothing"
    notes = len(there["event"])
    print(f"{before} batches before, {notes} in the copy, {after} after")
    assert before <= notes <= after
    assert len(there["alert"]) == notes
    assert len(there["reading"]) == 3000 + notes
    for table in TABLES:
        assert there[table] == here[table][: len(there[table])], table
    assert not list(tmp_path.glob(".*")), "something was left behind"
    assert not Path(f"{target}-wal").exists()


def test_a_restored_store_is_equal_row_by_row_and_goes_on(tmp_path: Path) -> None:
    source, target, clock = tmp_path / "noonpot.db", tmp_path / "new" / "noonpot.db", FakeClock()
    target.parent.mkdir()
    with opened(source, clock) as store:
        for number in range(500):
            write_reading(store, clock.advance(2), number % 90)
        copy(source, target, clock, NEVER)
        assert rows(target) == rows(source)
    with opened(target, clock) as store:
        write_reading(store, clock.advance(2), 77.0)
        found = store.samples_of("box-pot", START, clock.moment().at)
    assert len(found) == 501


def test_a_copy_that_is_broken_off_leaves_the_one_before(tmp_path: Path) -> None:
    source, target, clock = tmp_path / "noonpot.db", tmp_path / "copy.db", FakeClock()
    stop = threading.Event()
    with opened(source, clock) as store:
        write_reading(store, clock.advance(2), 50.0)
        copy(source, target, clock, NEVER)
        before = target.read_bytes()
        write_reading(store, clock.advance(2), 60.0)
        stop.set()
        with pytest.raises(StoreError, match="broken off"):
            copy(source, target, clock, stop)
    assert target.read_bytes() == before
    assert not list(tmp_path.glob(".*"))


def test_a_damaged_file_makes_no_backup(tmp_path: Path) -> None:
    source, target, clock = tmp_path / "noonpot.db", tmp_path / "copy.db", FakeClock()
    with opened(source, clock) as store:
        for number in range(3000):
            write_reading(store, clock.advance(2), number % 90)
    body = bytearray(source.read_bytes())
    body[-4096:] = bytes(4096)
    source.write_bytes(body)
    with pytest.raises(StoreDamagedError):
        copy(source, target, clock, NEVER)
    assert not target.exists()


def test_what_is_empty_newer_or_no_data_file_is_no_backup(tmp_path: Path) -> None:
    clock, target = FakeClock(), tmp_path / "target.db"
    empty, newer, text = (tmp_path / f"{name}.db" for name in ("empty", "newer", "text"))
    empty.touch()
    text.write_text("this is a letter to my grandmother, and no data file" * 100)
    opened(newer, clock).close()
    with closing(sqlite3.connect(newer)) as db, db:
        db.execute("INSERT INTO migration (name, at) VALUES ('things_to_come', '2031-01-01')")
    for file, error in (
        (empty, StoreDamagedError),
        (text, StoreDamagedError),
        (newer, NewerStoreError),
        (tmp_path / "not-there.db", StoreError),
    ):
        with pytest.raises(error):
            copy(file, target, clock, NEVER)
        assert not target.exists()


def test_the_last_week_and_four_weeks_before_are_kept_whenever_one_looks() -> None:
    have: set[datetime] = set()
    for day in range(200):
        have = set(kept(have | {NIGHT + timedelta(days=day)}, daily=7, weekly=4))
    newest = max(have)
    ages = sorted((newest - at).days for at in have)
    assert ages[:7] == [0, 1, 2, 3, 4, 5, 6]
    assert len(ages) == 11
    assert max(later - earlier for earlier, later in pairwise(ages)) <= 7
    assert ages[-1] >= 27


def test_every_day_of_a_leap_year_has_a_name_that_is_read_back(tmp_path: Path) -> None:
    days = [datetime(2028, 1, 1, 23, 59, tzinfo=UTC) + timedelta(days=day) for day in range(366)]
    for at in days:
        place(tmp_path, at).touch()
    assert [one.at for one in copies(tmp_path)] == days


def test_of_two_backups_of_a_day_the_later_one_is_kept(tmp_path: Path) -> None:
    for hours in (0, 5, 24):
        place(tmp_path, NIGHT + timedelta(hours=hours)).touch()
    (tmp_path / "noonpot-holiday.db").touch()
    thin(tmp_path, daily=7, weekly=4)
    assert [one.at for one in copies(tmp_path)] == [NIGHT + timedelta(hours=h) for h in (5, 24)]
    assert (tmp_path / "noonpot-holiday.db").exists()


def free_bytes(folder: Path) -> int:
    card = os.statvfs(folder)
    return card.f_bavail * card.f_frsize


def hollow(path: Path, size: int) -> None:
    """A file of a size that takes no room."""
    with path.open("wb") as file:
        file.truncate(size)


def test_the_oldest_backups_give_way_before_they_take_half_of_the_card(tmp_path: Path) -> None:
    source, folder = tmp_path / "noonpot.db", tmp_path / "backups"
    folder.mkdir()
    size = free_bytes(tmp_path) // 4
    hollow(source, size)
    for day in range(4):
        hollow(place(folder, NIGHT + timedelta(days=day)), size)
    make_room(source, folder, reserve_bytes=1000)
    assert 1 <= len(copies(folder)) < 4
    assert copies(folder)[-1].at == NIGHT + timedelta(days=3)


def test_a_backup_that_would_fill_the_card_is_not_begun(tmp_path: Path) -> None:
    source = tmp_path / "noonpot.db"
    hollow(source, 1_000_000)
    with pytest.raises(StoreFullError, match="no room for a backup of 1 MB"):
        make_room(source, tmp_path, reserve_bytes=free_bytes(tmp_path))


def test_a_copy_can_be_read_like_any_data_file(tmp_path: Path) -> None:
    source, target, clock = tmp_path / "noonpot.db", tmp_path / "copy.db", FakeClock()
    with opened(source, clock) as store:
        write_reading(store, clock.advance(2), 61.0)
        copy(source, target, clock, NEVER)
    target.chmod(0o440)
    (sample,) = Reader(target, clock).samples_of("box-pot", START, clock.moment().at)
    assert sample.at == START + timedelta(seconds=2)
