"""Wall clocks that start wrong, jump and fall back, and what the store makes of it."""

import random
from dataclasses import replace
from datetime import timedelta
from math import floor
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.cook import Cook, Event, EventKind, Load
from noonpot.core.moment import Moment
from noonpot.core.readings import FaultKind, Reading, Sample
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from store.shelf import START, alert, fault, opened, reading, write_reading

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "noonpot.db"


def seen(store: Store, clock: FakeClock) -> list[tuple[float, float]]:
    """Seconds since the start by the wall clock, and the value, of all readings of a probe."""
    until = max(clock.moment().at, START) + 400 * DAY
    back = store.samples_of("box-pot", START - 400 * DAY, until)
    return [((s.at - START).total_seconds(), s.value) for s in back if isinstance(s, Reading)]


def reboot(clock: FakeClock, *, wall_s: float = 0.0, trusted: bool = True) -> FakeClock:
    """The clock after a new boot, its wall time moved by so much against the old one."""
    after = FakeClock(clock.moment().at + timedelta(seconds=wall_s), 20.0)
    after.boot_id = f"{clock.boot_id}'"
    after.trust(trusted)
    return after


def test_what_was_written_under_a_wrong_clock_moves_when_it_is_set(path: Path) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    with opened(path, clock) as store:
        now = clock.moment()
        write_reading(store, now, 20)
        event = Event("box", now.at, EventKind.LOAD, {"food": "bread"})
        cook = Cook("box", now.at, load=Load(now.at, "bread"))
        record = AlarmRecord("box", "done", AlarmState.NORMAL, now)
        told = replace(alert("a", now), expires_at=now.at + HOUR)
        samples = [fault(now, FaultKind.CHECKSUM, "box-core")]
        store.write(now, Batch(samples, [event], [cook], [record], [told]))
        clock.advance(10)
        clock.step_wall(7200)
        clock.trust(True)
        write_reading(store, clock.moment(), 21)
        assert seen(store, clock) == [(7200, 20), (7210, 21)]
        true = now.at + 2 * HOUR
        assert store.samples_of("box-core", true, true)[0].at == true
        assert [e.at for e in store.events_of("box", true, true)] == [true]
        (back,) = store.running_cooks()
        assert (back.started_at, back.load) == (true, Load(true, "bread"))
        (moved,) = store.alarm_records()
        assert moved.since == Moment(true, now.mono_s, trusted=True)
        assert store.unsent("mqtt", 9) == [replace(told, at=true, expires_at=true + HOUR)]


def test_the_offset_as_first_believed_stays_on_record(path: Path) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    with opened(path, clock) as store:
        clock.step_wall(7200)
        clock.trust(True)
        write_reading(store, clock.moment(), 20)
        rows = store._db.execute("SELECT wall_s - stamped_wall_s, trusted FROM clock_span")  # noqa: SLF001
        assert [tuple(row) for row in rows] == [(7200, 1)]


def test_a_daemon_that_starts_after_the_clock_was_set_corrects_what_its_forerunner_wrote(
    path: Path,
) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    with opened(path, clock) as store:
        store.write(clock.moment(), Batch(cooks=[Cook("box", clock.moment().at)]))
    clock.advance(60)
    clock.step_wall(-3600)
    clock.trust(True)
    with opened(path, clock) as store:
        assert store.running_cooks()[0].started_at == START - HOUR


def test_readings_that_waited_across_the_setting_of_the_clock_go_by_the_monotonic_one(
    path: Path,
) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    with opened(path, clock) as store:
        samples: list[Sample] = []
        for step_s in (0, 7200, 0):
            samples.append(reading(clock.advance(2), 20))
            clock.step_wall(step_s)
        clock.trust(True)
        store.write(clock.advance(2), Batch(samples=samples))
        assert [at for at, _ in seen(store, clock)] == [7202, 7204, 7206]


def test_a_step_of_a_trusted_clock_leaves_the_past_as_it_is(path: Path) -> None:
    clock = FakeClock(START)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(100), 20)
        before = reading(clock.advance(2), 21)
        clock.step_wall(-3600)
        store.write(clock.advance(8), Batch(samples=[before, reading(clock.moment(), 22)]))
        assert seen(store, clock) == [(-3490, 22), (100, 20), (102, 21)]


def test_a_small_correction_backwards_costs_no_reading(path: Path) -> None:
    clock = FakeClock(START)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(2), 20)
        clock.step_wall(-1.9)
        write_reading(store, clock.advance(1), 21)
        write_reading(store, clock.advance(1), 22)
        assert [value for _, value in seen(store, clock)] == [20, 21, 22]


def test_the_second_of_a_reading_is_that_of_its_stamp_at_any_fraction(path: Path) -> None:
    seed = random.randrange(10**6)
    print("seed", seed)
    chance = random.Random(seed)
    clock = FakeClock(START + timedelta(seconds=chance.random()), mono_s=chance.uniform(1, 9e6))
    stamps = []
    with opened(path, clock) as store:
        for value in range(200):
            now = clock.advance(
                chance.choice([1.5, 2.0, 2.25, chance.randrange(1100, 9000) / 1000])
            )
            write_reading(store, now, value)
            stamps.append((floor((now.at - START).total_seconds()), value))
        assert seen(store, clock) == stamps


@pytest.mark.parametrize("tenths", range(10))
def test_rounding_errors_do_not_shift_a_reading_by_a_second(path: Path, tenths: int) -> None:
    clock = FakeClock(START, mono_s=1000 + tenths / 10)
    with opened(path, clock) as store:
        for value in range(4):
            write_reading(store, clock.advance(1.5), value)
        assert [at for at, _ in seen(store, clock)] == [1, 3, 4, 6]


def test_samples_stamped_by_the_new_clock_before_the_write_keep_their_stamps(path: Path) -> None:
    clock = FakeClock(START)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(100), 20)
        clock.step_wall(3600)
        samples = [reading(clock.advance(2), value) for value in (21, 22, 23)]
        store.write(clock.advance(2), Batch(samples=samples))
        assert seen(store, clock) == [(100, 20), (3702, 21), (3704, 22), (3706, 23)]


def test_a_boot_whose_clock_fell_back_overwrites_nothing(path: Path) -> None:
    clock = FakeClock(START)
    with opened(path, clock) as store:
        for value in (20, 21, 22):
            write_reading(store, clock.advance(2), value)
    clock = reboot(clock, wall_s=-8, trusted=False)
    with opened(path, clock) as store:
        for value in (50, 51, 52):
            write_reading(store, clock.advance(2), value)
        assert sorted(v for _, v in seen(store, clock)) == [20, 21, 22, 50, 51, 52]
        clock.step_wall(100)
        clock.trust(True)
        write_reading(store, clock.moment(), 53)
        ticks = [(2, 20), (4, 21), (6, 22), (100, 50), (102, 51), (104, 52), (104, 53)]
        assert seen(store, clock) == [t for t in ticks if t != (104, 52)]  # one second, the last


def test_the_corrected_cook_is_not_moved_back_by_who_still_has_the_old_one(path: Path) -> None:
    clock = FakeClock(START)
    clock.trust(False)
    with opened(path, clock) as store:
        now = clock.moment()
        record = AlarmRecord("box", "done", AlarmState.NORMAL, now)
        (stale,) = store.write(
            now, Batch(cooks=[Cook("box", now.at, load=Load(now.at, "bread"))], alarms=[record])
        )
        clock.step_wall(7200)
        clock.trust(True)
        store.write(clock.advance(5), Batch(cooks=[stale], alarms=[replace(record, text="x")]))
        (back,) = store.running_cooks()
        assert (back.started_at, back.load) == (START + 2 * HOUR, Load(START + 2 * HOUR, "bread"))
        assert store.alarm_records()[0].since.at == START + 2 * HOUR


def test_a_cook_begun_before_a_boot_stays_where_it_was_when_the_new_clock_is_set(
    path: Path,
) -> None:
    clock = FakeClock(START)
    with opened(path, clock) as store:
        (cook,) = store.write(clock.moment(), Batch(cooks=[Cook("box", START)]))
    clock = reboot(clock, wall_s=-3000, trusted=False)
    with opened(path, clock) as store:
        loaded = replace(cook, load=Load(clock.moment().at, "bread"))
        store.write(clock.moment(), Batch(cooks=[loaded]))
        clock.step_wall(3600)
        clock.trust(True)
        write_reading(store, clock.moment(), 20)
        (back,) = store.running_cooks()
        assert back.started_at == START
        assert back.load == Load(START + timedelta(seconds=600), "bread")


def test_the_monotonic_time_of_an_earlier_boot_comes_by_way_of_the_wall_clock(path: Path) -> None:
    clock = FakeClock(START, mono_s=5000)
    with opened(path, clock) as store:
        write_reading(store, clock.moment(), 20)
    clock = reboot(clock, wall_s=300)
    with opened(path, clock) as store:
        write_reading(store, clock.advance(4), 21)
        back = store.samples_of("box-pot", START, clock.moment().at)
        assert [s.mono_s for s in back] == [20 - 300, 24]


def test_no_reading_is_lost_and_all_are_right_whatever_the_clock_does(path: Path) -> None:
    """Boots with right and wrong clocks, most of them set later; the truth is kept beside."""
    seed = random.randrange(10**6)
    print("seed", seed)
    chance = random.Random(seed)
    clock, error_s = FakeClock(START), 0
    truth: dict[int, float | None] = {}  # true second by value, None while the clock is wrong
    waiting: dict[int, float] = {}
    store = opened(path, clock)
    try:
        for value in range(400):
            event = chance.randrange(12)
            if event == 0:
                store.close()
                error, error_s = error_s, chance.choice([0, -5000, -20, 70])
                clock = reboot(clock, wall_s=30 - error + error_s, trusted=error_s == 0)
                truth |= dict.fromkeys(waiting)  # nobody will ever know
                waiting = {}
                store = opened(path, clock)
            elif event == 1:
                clock.step_wall(-error_s)
                clock.trust(True)
                error_s = 0
            now = clock.advance(chance.choice([1, 2, 5, 40]))
            write_reading(store, now, value)
            waiting[value] = (now.at - START).total_seconds() - error_s
            if error_s == 0:
                truth |= waiting
                waiting = {}
        truth |= dict.fromkeys(waiting)
        back = [(int(value), at) for at, value in seen(store, clock)]
        assert sorted(value for value, _ in back) == list(range(400))
        assert {v: at for v, at in back if truth[v] is not None} == {
            v: at for v, at in truth.items() if at is not None
        }
    finally:
        store.close()
