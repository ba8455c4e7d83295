"""Readings stay as they were; whoever reads gets what the calibration of then makes of them."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.calibration import Calibration, Point, calibrated, place_of
from noonpot.core.cook import Cook
from noonpot.core.moment import utc
from noonpot.core.readings import FaultKind, Reading, Role, Sample
from noonpot.core.recording import format_recording
from noonpot.core.station import CookerSpec, Place, Station
from noonpot.ports import Batch
from noonpot.store import bins
from noonpot.store.connection import open_to_write
from noonpot.store.export import export
from noonpot.store.migrations import MIGRATIONS, migrate
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from store.shelf import PROBES, START, fault, opened, reading, write_reading

POT, CORE = PROBES[0], PROBES[1]
LATE = START + timedelta(days=400)
GARDEN = Station("garden", Place(40, -105, 1600), (CookerSpec("box"),), PROBES)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "noonpot.db"


@pytest.fixture
def store(path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(path, clock) as store:
        yield store


def line(
    at: datetime, *, low: float = 1.0, high: float = 2.0, probe: str = "box-pot"
) -> Calibration:
    """Of a probe that shows so much too much in ice and in water that boils at 95 °C."""
    spec = next(p for p in PROBES if p.name == probe)
    points = [Point(0.0, low, 0.02, 0.1), Point(95.0, 95.0 + high, 0.05, 0.3)]
    return calibrated(probe, place_of(spec), at, points)


def take(store: Store, clock: FakeClock, made: Calibration) -> None:
    store.write(clock.moment(), Batch(calibrations=[made]))


def seen(store: Reader, probe: str = "box-pot", *, raw: bool = False) -> list[float]:
    find = store.raw_of if raw else store.samples_of
    return [s.value for s in find(probe, START, LATE) if isinstance(s, Reading)]


def test_a_calibration_counts_from_its_moment_on_until_the_next_one(
    store: Store, clock: FakeClock
) -> None:
    write_reading(store, clock.advance(10), 48.5)
    take(store, clock, line(clock.advance(1).at))
    write_reading(store, clock.moment(), 97.0)  # of that very second
    write_reading(store, clock.advance(10), 1.0)
    take(store, clock, line(clock.advance(1).at, low=-1.0, high=-1.0))
    write_reading(store, clock.advance(10), 49.0)
    assert seen(store) == [48.5, 95.0, 0.0, 50.0]
    assert seen(store, raw=True) == [48.5, 97.0, 1.0, 49.0]


def test_another_probe_is_left_alone_and_so_are_faults(store: Store, clock: FakeClock) -> None:
    take(store, clock, line(clock.moment().at))
    now = clock.advance(10)
    samples: list[Sample] = [
        reading(now, 20.0, "box-core"),
        reading(now, 800.0, "sky"),
        fault(now, FaultKind.STUCK),
    ]
    store.write(now, Batch(samples=samples))
    assert seen(store, "box-core") == [20.0]
    assert seen(store, "sky") == [800.0]
    (kept,) = store.samples_of("box-pot", START, LATE)
    assert kept == fault(now, FaultKind.STUCK)


def test_taking_a_calibration_back_shows_readings_as_they_are_again(
    store: Store, clock: FakeClock
) -> None:
    take(store, clock, line(clock.moment().at))
    write_reading(store, clock.advance(10), 97.0)
    now = clock.advance(10)
    take(store, clock, Calibration("box-pot", place_of(POT), now.at))
    write_reading(store, now, 97.0)
    assert seen(store) == [95.0, 97.0]


def test_the_last_calibration_of_each_probe_comes_back_after_a_restart(
    path: Path, clock: FakeClock
) -> None:
    with opened(path, clock) as store:
        assert store.calibrations() == {}
        take(store, clock, line(clock.advance(60).at, low=0.5))
        later = line(clock.advance(60).at)
        take(store, clock, later)
        take(store, clock, line(clock.moment().at, probe="box-core"))
    with opened(path, clock) as store:
        known = store.calibrations()
    assert set(known) == {"box-pot", "box-core"}
    assert known["box-pot"] == later


def test_everything_that_reads_a_cook_reads_it_corrected(store: Store, clock: FakeClock) -> None:
    begun = clock.moment()
    (cook,) = store.write(begun, Batch(cooks=[Cook("box", begun.at)]))
    for value in (20.0, 60.0, 80.0):
        write_reading(store, clock.advance(60), value, "box-core")
    take(store, clock, line(clock.advance(1).at, low=5.0, high=5.0, probe="box-core"))
    for value in (84.0, 88.0, 70.0):
        write_reading(store, clock.advance(60), value, "box-core")
    until = clock.moment().at
    told = [20.0, 60.0, 80.0, 79.0, 83.0, 65.0]
    at = [START + timedelta(seconds=s) for s in (60, 120, 180, 241, 301, 361)]
    assert [value.value for value in store.values_of("box", START, until)] == told
    curve = store.curve("box", START, until, 600)
    assert [v for v in curve.values[Role.CORE] if v is not None] == told
    assert store.peak_core_c("box", START, until) == 83.0
    assert store.core_reached("box", 82.0, START, until) == at[4]
    assert store.core_reached("box", 84.0, START, until) is None
    assert store.core_below("box", 66.0, at[3], until) == at[5]
    assert store.last_values(START, until)["box-core"] == (65.0, at[5])
    recording = export(store, cook.id, GARDEN, until)
    assert [row.values[Role.CORE] for row in recording.rows if row.values] == told
    assert "83.0" in format_recording(recording)


def test_one_bin_may_hold_readings_of_two_lines(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.advance(2), 50.0)
    take(store, clock, line(clock.advance(2).at, low=4.0, high=4.0))
    write_reading(store, clock.advance(2), 52.0)  # the higher as shown, the lower in truth
    curve = store.curve("box", START, START + timedelta(hours=1), 10)
    assert curve.values[Role.POT] == [50.0, 48.0]


def test_a_walk_over_too_many_readings_corrects_too(
    store: Store, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bins, "MOST_ROWS", 10)
    monkeypatch.setattr(bins, "LANDINGS", 10)
    for _ in range(50):
        write_reading(store, clock.advance(5), 60.0)
    take(store, clock, line(clock.advance(1).at, low=5.0, high=5.0))
    for _ in range(50):
        write_reading(store, clock.advance(5), 60.0)
    curve = store.curve("box", START, clock.moment().at, 100)
    assert curve.every_s > 0
    assert {v for v in curve.values[Role.POT] if v is not None} == {60.0, 55.0}


def drained(store: Store) -> list[float | str]:
    gone: list[float | str] = []
    while points := store.outgoing("influx", 500):
        gone += [next(iter(point.fields.values())) for point in points]
        store.delivered("influx")
    return gone


def test_a_server_gets_corrected_readings_and_those_anew_that_a_late_letter_corrects(
    store: Store, clock: FakeClock
) -> None:
    write_reading(store, clock.advance(10), 97.0)
    done_at = clock.advance(5).at
    write_reading(store, clock.advance(5), 97.0)
    assert drained(store) == [97.0, 97.0]
    take(store, clock, line(done_at))
    write_reading(store, clock.advance(10), 97.0)
    assert drained(store) == [95.0, 95.0]


def test_a_probe_at_another_place_needs_a_calibration_of_its_own(
    path: Path, clock: FakeClock
) -> None:
    with opened(path, clock) as store:
        take(store, clock, line(clock.moment().at))
        write_reading(store, clock.advance(10), 97.0)
    clock.advance(60)
    with Store(path, clock) as store:
        store.register([replace(POT, address="28-77"), *PROBES[1:]])
        write_reading(store, clock.advance(10), 97.0)
        assert seen(store) == [95.0, 97.0]
        assert store.calibrations()["box-pot"].points == ()
    clock.advance(60)
    with Store(path, clock) as store:  # that it stays there is no news
        store.register([replace(POT, address="28-77"), *PROBES[1:]])
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("SELECT count(*) FROM calibration").fetchone() == (2,)


def test_a_probe_that_only_changed_its_cooker_keeps_its_calibration(
    path: Path, clock: FakeClock
) -> None:
    with opened(path, clock) as store:
        take(store, clock, line(clock.moment().at))
    clock.advance(60)
    with Store(path, clock) as store:
        store.register([replace(POT, cooker="dish", role=Role.CORE)])
        write_reading(store, clock.advance(10), 97.0)
        assert seen(store) == [95.0]


def test_a_letter_that_waited_through_a_boot_corrects_nothing_of_the_boot_before(
    path: Path, clock: FakeClock
) -> None:
    with opened(path, clock) as store:
        for _ in range(5):
            write_reading(store, clock.advance(600), 97.0)
    done_at = clock.advance(3600).at  # while nothing ran
    after = FakeClock(clock.advance(3600).at, 20.0)
    after.boot_id = "boot-2"
    with opened(path, after) as store:
        take(store, after, line(done_at))
        write_reading(store, after.advance(10), 97.0)
        assert seen(store) == [97.0] * 5 + [95.0]


def test_a_calibration_from_a_clock_that_was_set_later_stays_where_it_was(
    path: Path, clock: FakeClock
) -> None:
    clock.trust(False)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(10), 97.0)
        take(store, clock, line(clock.advance(10).at))
        write_reading(store, clock.advance(10), 97.0)
        clock.step_wall(86_400)
        clock.trust(True)
        write_reading(store, clock.advance(10), 97.0)
        assert seen(store) == [97.0, 95.0, 95.0]
        assert store.calibrations()["box-pot"].at == START + timedelta(seconds=86_420)


def test_a_letter_from_the_future_counts_from_now_on(store: Store, clock: FakeClock) -> None:
    write_reading(store, clock.advance(10), 97.0)
    clock.advance(10)
    take(store, clock, line(utc("2027-01-01T00:00:00Z")))
    write_reading(store, clock.advance(10), 97.0)
    assert seen(store) == [97.0, 95.0]


def test_a_file_that_no_new_daemon_has_opened_is_read_uncorrected(
    path: Path, clock: FakeClock
) -> None:
    names = [step.__name__ for step in MIGRATIONS]
    steps = MIGRATIONS[: names.index("calibrations_of_probes")]
    with closing(open_to_write(path)) as db:
        migrate(db, "2026-06-03T07:00:00Z", steps)
        db.execute("INSERT INTO clock_span VALUES (0, 'boot-1', 0, ?, 0, 1)", (START.timestamp(),))
        db.execute("INSERT INTO series VALUES (1, 'box-pot', 'pot', 'box')")
        db.execute("INSERT INTO reading VALUES (?, ?)", (10 * 1024 + 1, 97 * 16))
    reader = Reader(path, clock)
    assert seen(reader) == [97.0]
    assert reader.calibrations() == {}
    assert reader.curve("box", START, LATE, 100).values[Role.POT] == [97.0]
    assert CORE.name not in reader.last_values(START, LATE)
