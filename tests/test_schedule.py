"""Housekeeping keeps its pace when the wall clock is set, which plain APScheduler does not."""

import threading
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from noonpot.clock import SystemClock
from noonpot.core.moment import Moment
from noonpot.ports import Health, Signal
from noonpot.schedule import Housekeeping

DEADLINE_S = 10.0


class SteppedClock(SystemClock):
    """The machine's clock with a wall time that can be set."""

    def __init__(self) -> None:
        super().__init__()
        self.shift = timedelta()
        self.asleep_s = 0.0

    def moment(self) -> Moment:
        now = super().moment()
        return replace(now, at=now.at + self.shift, mono_s=now.mono_s + self.asleep_s)

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        return signal.wait(timeout_s)


@pytest.mark.parametrize("step", [timedelta(hours=-1), timedelta(hours=1), timedelta(days=160)])
def test_jobs_go_on_when_the_clock_is_set(step: timedelta, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = SteppedClock()
    stepped = stepped_datetime(clock)
    monkeypatch.setattr("apscheduler.schedulers.base.datetime", stepped)
    monkeypatch.setattr("apscheduler.triggers.interval.datetime", stepped)
    monkeypatch.setattr("apscheduler.executors.base.datetime", stepped)
    runs = threading.Semaphore(0)
    jobs = Housekeeping(clock, Health())
    jobs.every(0.05, runs.release, "tick")
    jobs.start()
    try:
        assert runs.acquire(timeout=DEADLINE_S)
        clock.shift = step
        for _ in range(5):
            assert runs.acquire(timeout=DEADLINE_S), f"no run after a step of {step}"
    finally:
        jobs.shutdown(wait=True)


def test_a_step_between_two_looks_at_the_clock_is_not_slept_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = SteppedClock()
    monkeypatch.setattr("apscheduler.schedulers.base.datetime", stepped_datetime(clock))
    jobs = Housekeeping(clock, Health())
    jobs.every(60, lambda: None, "minute")
    jobs.start()
    try:
        jobs._process_jobs()  # noqa: SLF001  the look before the step
        seen = clock.moment

        def step_behind_our_back() -> Moment:
            now = seen()
            clock.shift = timedelta(hours=-1)
            return now

        monkeypatch.setattr(clock, "moment", step_behind_our_back)
        assert jobs._process_jobs() <= 2.0  # noqa: SLF001
    finally:
        jobs.shutdown(wait=True)


def stepped_datetime(clock: SteppedClock) -> Any:
    """The library asks ``datetime.now``: it is given our clock's."""

    class Stepped(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> "Stepped":
            at = clock.moment().at.astimezone(tz)
            return cls.fromisoformat(at.isoformat())

    return Stepped


def test_a_job_that_raises_is_counted_and_runs_again() -> None:
    health, runs = Health(), threading.Semaphore(0)

    def slip() -> None:
        runs.release()
        raise ValueError("slip")

    jobs = Housekeeping(SystemClock(), health)
    jobs.every(0.05, slip, "slip")
    jobs.start()
    try:
        assert all(runs.acquire(timeout=DEADLINE_S) for _ in range(3))
    finally:
        jobs.shutdown(wait=True)
    assert health.counts["job-errors"] >= 2


def test_a_scheduler_that_wakes_no_more_is_noticed() -> None:
    clock = SteppedClock()
    jobs = Housekeeping(clock, Health())
    jobs.every(60, lambda: None, "minute")
    assert not jobs.stalled()  # it has not begun
    jobs.start()
    assert not jobs.stalled()
    jobs.shutdown(wait=True)
    clock.asleep_s = 14
    assert not jobs.stalled()
    clock.asleep_s = 20
    assert jobs.stalled()
