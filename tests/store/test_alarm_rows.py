"""Timers of alarms across a restart of the daemon, and of the machine."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.alarms import COVERS, AlarmRecord, AlarmState
from noonpot.core.moment import Moment
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.ports import Batch
from noonpot.store.migrations import MIGRATIONS, migrate
from store.shelf import START, alert, opened

NOW_S = 1000.0
RECORD = AlarmRecord(
    "box",
    "danger-zone",
    AlarmState.SHELVED,
    Moment(START, NOW_S),
    rising_s=NOW_S - 300,
    falling_s=NOW_S - 20,
    told_s=NOW_S - 60,
    until_s=NOW_S + 1800,
)
TIMERS = ("rising_s", "falling_s", "told_s", "until_s")


def timeless(record: AlarmRecord) -> AlarmRecord:
    """The record without anything that a reboot moves."""
    since = Moment(START, 0)
    return replace(record, since=since, rising_s=None, falling_s=None, told_s=None, until_s=None)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A file in which the record was written at ``NOW_S``."""
    path = tmp_path / "noonpot.db"
    clock = FakeClock(START, NOW_S)
    with opened(path, clock) as store:
        store.write(clock.moment(), Batch(alarms=[RECORD]))
    return path


def after_boot(path: Path, clock: FakeClock) -> AlarmRecord:
    clock.boot_id = "boot-2"
    with opened(path, clock) as store:
        (record,) = store.alarm_records()
    return record


def test_within_one_boot_the_timers_stay_as_they_are(path: Path) -> None:
    clock = FakeClock(START, NOW_S)
    clock.advance(90)
    with opened(path, clock) as store:
        assert store.alarm_records() == [RECORD]


def test_after_a_boot_the_time_it_took_is_counted(path: Path) -> None:
    """Ten minutes by the wall clock from the writing to now, and 30 s since the new boot."""
    clock = FakeClock(START, 30)
    clock.step_wall(600)
    record = after_boot(path, clock)
    assert record == replace(
        RECORD,
        since=Moment(START, 30 - 600),
        rising_s=30 - 600 - 300,
        falling_s=30 - 600 - 20,
        told_s=30 - 600 - 60,
        until_s=30 - 600 + 1800,
    )


def test_no_timer_lies_in_the_future_when_the_clock_fell_back(path: Path) -> None:
    clock = FakeClock(START, 30)
    clock.step_wall(-7200)
    record = after_boot(path, clock)
    assert (record.rising_s, record.falling_s, record.told_s) == (30, 30, 30)
    assert record.since == Moment(START, 30)


def test_a_shelving_never_grows_longer_when_the_clock_fell_back(path: Path) -> None:
    clock = FakeClock(START, 30)
    clock.step_wall(-7200)
    assert after_boot(path, clock).until_s == 30 + 1800


@pytest.mark.parametrize("state", AlarmState)
def test_every_alarm_in_every_state_comes_back_as_it_was_after_a_kill(
    tmp_path: Path, state: AlarmState
) -> None:
    """Timers within a second; within one boot to the last digit, after a reboot by the clock."""
    path, clock = tmp_path / "noonpot.db", FakeClock(START, NOW_S)
    left = [
        replace(
            RECORD,
            alarm=name,
            state=state,
            occurrence=3,
            tellings=2,
            beneath=AlarmState.ACKNOWLEDGED if state in COVERS else AlarmState.NORMAL,
            latched=state is AlarmState.ACKNOWLEDGED,
        )
        for name in sorted(DEFAULT_POLICIES)
    ]
    with opened(path, clock) as store:
        store.write(clock.moment(), Batch(alarms=left))
    with opened(path, clock) as store:
        assert store.alarm_records() == left
    clock.boot_id, rebooted = "boot-2", FakeClock(START, 30)
    rebooted.boot_id = "boot-2"
    rebooted.step_wall(60)
    with opened(path, rebooted) as store:
        for before, after in zip(left, store.alarm_records(), strict=True):
            assert timeless(after) == timeless(before)
            for timer in TIMERS:
                age_s = NOW_S - getattr(before, timer)
                assert 30 - getattr(after, timer) == pytest.approx(age_s + 60, abs=1), timer


def test_alarms_of_a_file_from_before_repetitions_count_as_told_once(tmp_path: Path) -> None:
    path, steps = tmp_path / "noonpot.db", [m.__name__ for m in MIGRATIONS]
    old = MIGRATIONS[: steps.index("repeats_and_latches")]
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        migrate(db, "2026-06-03T07:00:00Z", old)
        db.execute("INSERT INTO clock_span VALUES (1, 'boot-1', 0, 0, 0, 1)")
        db.execute(
            "INSERT INTO alarm (cooker, alarm, state, since_span, since_tick, since_mono_s,"
            " occurrence, subject, text, priority, told_s, written_span, written_mono_s)"
            " VALUES ('box', 'done', 'unacknowledged', 1, 1, 990, 1, '', 'old', 'high', 990, 1, 0)"
        )
    with opened(path, FakeClock(START, NOW_S)) as store:
        (record,) = store.alarm_records()
    assert (record.tellings, record.words, record.latched) == (1, "old", False)


def test_timers_that_do_not_run_do_not_start(tmp_path: Path) -> None:
    path = tmp_path / "noonpot.db"
    clock = FakeClock(START, NOW_S)
    still = AlarmRecord("box", "done", AlarmState.NORMAL, clock.moment())
    with opened(path, clock) as store:
        store.write(clock.moment(), Batch(alarms=[still]))
    record = after_boot(path, FakeClock(START, 30))
    assert (record.rising_s, record.falling_s) == (None, None)
    assert (record.told_s, record.until_s) == (None, None)


def test_an_alarm_moved_to_a_new_boot_and_written_there_keeps_its_times(path: Path) -> None:
    clock = FakeClock(START, 30)
    clock.step_wall(600)
    clock.boot_id = "boot-2"
    with opened(path, clock) as store:
        (moved,) = store.alarm_records()
        store.write(clock.advance(10), Batch(alarms=[replace(moved, text="again")]))
        assert store.alarm_records() == [replace(moved, text="again")]


def test_a_long_outbox_is_looked_through_from_where_it_is_unsettled(tmp_path: Path) -> None:
    clock = FakeClock(START)
    with opened(tmp_path / "noonpot.db", clock) as store:
        names = [f"a-{n}" for n in range(500)]
        store.write(clock.moment(), Batch(alerts=[alert(name, clock.moment()) for name in names]))
        settled: list[str] = []
        while told := store.unsent("mqtt", 7):
            for one in reversed(told):  # answers come in any order
                store.settle("mqtt", one.id, "sent")
            settled += [one.id for one in told]
        assert settled == names
        store.write(clock.moment(), Batch(alerts=[alert("late", clock.moment())]))
        assert [one.id for one in store.unsent("mqtt", 7)] == ["late"]
