"""Coarse housekeeping by the minute, on APScheduler made steady against a wall clock that jumps."""

import logging
from collections.abc import Callable
from datetime import timedelta

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MAX_INSTANCES, EVENT_JOB_MISSED, JobEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from noonpot.ports import Clock, Health

THREADS = 5  # one of them may make a backup for minutes
GRACE_S = 30
SHIFT_S = 1.0
LONGEST_WAIT_S = 2.0
STALL_S = 15.0
COUNTERS = {
    EVENT_JOB_ERROR: "job-errors",
    EVENT_JOB_MISSED: "jobs-missed",
    EVENT_JOB_MAX_INSTANCES: "jobs-overlapped",
}


class Housekeeping(BackgroundScheduler):  # type: ignore[misc]  # a library without types
    """Interval jobs that keep their pace when the wall clock is set.

    APScheduler plans by the wall clock alone: after a step back it would wait out the whole step,
    after a long step forward it would count every missed run. So each time it wakes, all plans are
    moved by the step first. It overrides a method that the library calls private, which is why the
    library is pinned below its next minor version. Sampling and alarms do not depend on it.
    """

    def __init__(self, clock: Clock, health: Health) -> None:
        super().__init__(
            executors={"default": ThreadPoolExecutor(THREADS)},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": GRACE_S},
            timezone="UTC",
        )
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._clock = clock
        self._offset_s: float | None = None
        self._woke_s: float | None = None
        self.add_listener(self._count(health), sum(COUNTERS))

    def every(self, seconds: float, work: Callable[[], object], name: str) -> None:
        """Run ``work`` every so many seconds."""
        self.add_job(work, "interval", seconds=seconds, id=name, name=name)

    def stalled(self) -> bool:
        """Whether it has begun, and has not woken for much longer than it ever sleeps."""
        woke_s = self._woke_s
        return woke_s is not None and self._clock.moment().mono_s - woke_s > STALL_S

    @staticmethod
    def _count(health: Health) -> Callable[[JobEvent], None]:
        def count(event: JobEvent) -> None:
            health.count(COUNTERS[event.code])

        return count

    def _process_jobs(self) -> float:
        now = self._clock.moment()
        self._woke_s = now.mono_s
        offset_s = now.at.timestamp() - now.mono_s
        step_s = 0.0 if self._offset_s is None else offset_s - self._offset_s
        self._offset_s = offset_s
        if abs(step_s) > SHIFT_S:
            self._shift(timedelta(seconds=step_s))
        wait_s: float | None = super()._process_jobs()
        # A step between the two looks at the clock would else be slept through in full.
        return LONGEST_WAIT_S if wait_s is None else min(wait_s, LONGEST_WAIT_S)

    def _shift(self, step: timedelta) -> None:
        with self._jobstores_lock:
            for store in self._jobstores.values():
                for job in store.get_all_jobs():
                    if job.next_run_time is not None:
                        job._modify(next_run_time=job.next_run_time + step)  # noqa: SLF001  as above
                        store.update_job(job)
