"""The data file itself: its settings, its size, and what happens when it is not as it should be."""

import os
import random
import sqlite3
import stat
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from fakes import FakeClock
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.readings import Reading
from noonpot.errors import NewerStoreError, StoreError
from noonpot.ports import Batch
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from store.shelf import PROBES, START, opened, reading, write_reading

NOBODY = 65534


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "noonpot.db"


@pytest.fixture
def store(path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(path, clock) as store:
        yield store


def pragma(store: Store, name: str) -> object:
    return store._db.execute(f"PRAGMA {name}").fetchone()[0]  # noqa: SLF001


def test_every_commit_of_the_writer_is_forced_to_the_card(store: Store) -> None:
    """The figures are those of the SQLite documentation: synchronous 2 is FULL."""
    assert pragma(store, "journal_mode") == "wal"
    assert pragma(store, "synchronous") == 2
    assert pragma(store, "foreign_keys") == 1
    assert pragma(store, "busy_timeout") == 5000
    assert pragma(store, "mmap_size") == 0
    assert pragma(store, "journal_size_limit") == 8 * 1024 * 1024


def test_cooks_of_a_file_from_before_the_meals_can_be_read(path: Path, clock: FakeClock) -> None:
    with opened(path, clock) as store:
        store.write(clock.moment(), Batch(cooks=[Cook("box", clock.moment().at)]))
    with closing(sqlite3.connect(path)) as db:
        db.execute("ALTER TABLE cook DROP COLUMN meal_at")
    (cook,) = Reader(path, clock).cooks()
    assert cook.meal_at is None


def test_the_files_are_closed_to_strangers(store: Store, path: Path, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20)
    for file in (path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")):
        assert stat.S_IMODE(file.stat().st_mode) == 0o640, file


def test_a_reading_takes_at_most_sixteen_bytes_as_written(path: Path, clock: FakeClock) -> None:
    """Eight probes every 2 s, a commit every 10 s, after 104 days of running: larger numbers."""
    probes = tuple(replace(PROBES[0], name=f"probe-{n}") for n in range(8))
    clock.advance(9_000_000)
    chance, values, rounds = random.Random(1), [60.0] * 8, 13_000
    with Store(path, clock) as store:
        store.register(probes)
        store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # noqa: SLF001
        empty = path.stat().st_size
        batch: list[Reading] = []
        for number in range(rounds):
            now = clock.advance(2)
            values = [value + chance.gauss(0, 0.3) for value in values]
            batch += [reading(now, v, p.name) for v, p in zip(values, probes, strict=True)]
            if number % 5 == 4:
                store.write(now, Batch(samples=batch))
                batch = []
    size = (path.stat().st_size - empty) / (rounds * len(probes))
    print(f"{size:.2f} bytes a reading")
    assert size <= 16


def test_several_threads_may_write_at_once(store: Store, clock: FakeClock) -> None:
    later = [clock.advance(1) for _ in range(50)]

    def work(probe: str) -> None:
        for n, now in enumerate(later):
            store.write(now, Batch(samples=[reading(now, n, probe)]))
            store.samples_of(probe, START, now.at)

    threads = [threading.Thread(target=work, args=(probe.name,)) for probe in PROBES]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    with closing(sqlite3.connect(store._path)) as db:  # noqa: SLF001
        assert db.execute("SELECT count(*) FROM reading").fetchone()[0] == 50 * len(PROBES)


def test_two_daemons_cannot_write_one_file(store: Store, path: Path, clock: FakeClock) -> None:
    with pytest.raises(StoreError, match="in use by another noonpot"):
        Store(path, clock)
    store.close()
    Store(path, clock).close()


def test_a_reader_sees_what_the_writer_has_committed(
    store: Store, path: Path, clock: FakeClock
) -> None:
    reader = Reader(path, clock)
    write_reading(store, clock.moment(), 20.5)
    assert reader.samples_of("box-pot", START, START) == [reading(clock.moment(), 20.5)]
    store.close()
    assert reader.samples_of("box-pot", START, START) == [reading(clock.moment(), 20.5)]


def test_a_reader_finds_the_days_of_sun_that_the_daemon_keeps(
    store: Store, path: Path, clock: FakeClock
) -> None:
    store.keep_sun_day("2026-06-03", b"table")
    reader = Reader(path, clock)
    assert reader.sun_day("2026-06-03") == b"table"
    assert reader.sun_day("2026-06-04") is None


@contextmanager
def stranger(folder: Path) -> Iterator[None]:
    """As somebody who may read the folder but not write there; root has to become one first."""
    user = os.geteuid()
    folder.chmod(0o555)
    os.seteuid(NOBODY if user == 0 else user)
    try:
        yield
    finally:
        os.seteuid(user)
        folder.chmod(0o755)


@pytest.mark.parametrize("running", [True, False])
def test_a_person_who_may_only_read_sees_the_file_of_a_running_and_of_a_stopped_daemon(
    clock: FakeClock, running: bool
) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder, "noonpot.db")
        store = opened(path, clock)
        write_reading(store, clock.moment(), 20.5)
        if not running:
            store.close()
        for file in Path(folder).iterdir():
            file.chmod(0o644)
        with stranger(Path(folder)):
            reader = Reader(path, clock)
            assert reader.samples_of("box-pot", START, START) == [reading(clock.moment(), 20.5)]
        store.close()


def test_a_reader_of_no_file_says_so_and_makes_none(path: Path, clock: FakeClock) -> None:
    with pytest.raises(StoreError, match="check that its folder is there"):
        Reader(path, clock)
    assert not path.exists()


def test_a_newer_file_is_refused_politely_and_left_as_it_is(path: Path, clock: FakeClock) -> None:
    opened(path, clock).close()
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("INSERT INTO migration (name, at) VALUES ('things_to_come', '2031-01-01')")
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = DELETE")  # whoever opens it to write changes it back
    before = path.read_bytes()
    with pytest.raises(NewerStoreError, match=r"newer Noonpot \(it knows of things_to_come\)"):
        Store(path, clock)
    with pytest.raises(NewerStoreError):
        Reader(path, clock)
    assert path.read_bytes() == before


def test_a_damaged_file_says_so_and_what_to_do(path: Path, clock: FakeClock) -> None:
    with opened(path, clock) as store:
        for _ in range(2000):
            write_reading(store, clock.advance(1), 20)
    pages = bytearray(path.read_bytes())
    pages[-4096 * 2 : -4096] = bytes(4096)
    path.write_bytes(pages)
    with pytest.raises(StoreError, match=r"damaged .*; move it aside and restore a backup"):
        Store(path, clock)
    assert path.read_bytes() == pages


@pytest.mark.parametrize("content", [b"a letter to my aunt, no database\n" * 100, b"\x00" * 8192])
def test_a_file_of_another_kind_is_left_alone(path: Path, clock: FakeClock, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(StoreError, match="damaged or no data file"):
        Store(path, clock)
    assert path.read_bytes() == content


def test_a_database_of_another_program_is_left_alone(path: Path, clock: FakeClock) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="not a data file of Noonpot"):
        Store(path, clock)
    assert path.read_bytes() == before


def test_a_refused_file_can_be_opened_once_it_is_mended(path: Path, clock: FakeClock) -> None:
    path.write_bytes(b"no database\n" * 100)
    with pytest.raises(StoreError):
        Store(path, clock)
    path.unlink()
    Store(path, clock).close()


def test_a_full_card_is_named_and_the_file_goes_on_when_there_is_room(store: Store) -> None:
    (pages,) = store._db.execute("PRAGMA page_count").fetchone()  # noqa: SLF001
    store._db.execute(f"PRAGMA max_page_count = {pages}")  # noqa: SLF001
    with pytest.raises(StoreError, match="the card is full: free some space"):
        store.keep_sun_day("big", bytes(100_000))
    store._db.execute("PRAGMA max_page_count = 100000")  # noqa: SLF001
    assert store.sun_day("big") is None
    store.keep_sun_day("big", bytes(100_000))
    assert store.sun_day("big") == bytes(100_000)


def test_of_two_readings_of_one_probe_in_one_second_the_last_stays(
    store: Store, clock: FakeClock
) -> None:
    write_reading(store, clock.moment(), 20)
    write_reading(store, clock.advance(0.5), 21)
    back = store.samples_of("box-pot", START, START)
    assert [s.value for s in back if isinstance(s, Reading)] == [21]


def test_an_event_handed_over_twice_counts_once(store: Store, clock: FakeClock) -> None:
    now = clock.moment()
    lid = Event("box", now.at, EventKind.LID, {"uid": "u-1", "text": "ein Blick über den Rand"})
    same_words = Event("box", now.at, EventKind.LID, {"text": "ein Blick über den Rand"})
    assert not store.knows_event("u-1")
    store.write(now, Batch(events=[lid, lid]))
    store.write(now, Batch(events=[lid]))
    assert store.knows_event("u-1")
    assert store.events_of("box", START, START) == [same_words]
    store.write(now, Batch(events=[same_words, same_words]))
    assert store.events_of("box", START, START) == [same_words] * 3


def test_a_probe_that_moves_to_another_cooker_leaves_its_past_there(
    store: Store, clock: FakeClock
) -> None:
    write_reading(store, clock.moment(), 20)
    store.register([replace(PROBES[0], cooker="dish")])
    write_reading(store, clock.advance(10), 90)
    until = clock.moment().at
    assert [v.value for v in store.values_of("box", START, until)] == [20]
    assert [v.value for v in store.values_of("dish", START, until)] == [90]
    assert len(store.samples_of("box-pot", START, until)) == 2


def test_the_newest_thirty_days_of_sun_are_kept(store: Store) -> None:
    for day in range(40):
        store.keep_sun_day(f"day-{day}", bytes([day]))
    assert store.sun_day("day-9") is None
    assert [store.sun_day(f"day-{day}") for day in (10, 39)] == [bytes([10]), bytes([39])]
    store.keep_sun_day("day-39", b"computed anew")
    assert store.sun_day("day-39") == b"computed anew"


def test_the_file_can_be_read_by_hand(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.moment(), 20.5)
    write_reading(store, clock.advance(2), 556, "sky")
    with closing(sqlite3.connect(store._path)) as db:  # noqa: SLF001
        assert db.execute("SELECT * FROM reading_utc").fetchall() == [
            ("2026-06-03 07:00:00", "box-pot", "pot", "box", 20.5),
            ("2026-06-03 07:00:02", "sky", "irradiance", "", 556),
        ]
