"""Whoever dies at work is replaced, and counted; whoever was told to stop is not."""

import threading
from collections.abc import Callable

import pytest

from noonpot.clock import SystemClock
from noonpot.engine.crew import Crew
from noonpot.ports import Health, Signal

DEADLINE_S = 10.0


class Death(BaseException):
    """What no handler of ordinary errors catches."""


def until(condition: Callable[[], bool]) -> None:
    clock, never = SystemClock(), threading.Event()
    end_s = clock.moment().mono_s + DEADLINE_S
    while not condition():
        assert clock.moment().mono_s < end_s
        never.wait(0.005)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_each_of_the_crew_is_replaced_when_it_dies() -> None:
    stop, health = threading.Event(), Health()
    lives = {name: threading.Semaphore(0) for name in ("tell-mqtt", "tell-push", "tell-console")}
    fatal: set[str] = set()

    def work(name: str) -> Callable[[Signal], None]:
        def live(stop: Signal) -> None:
            lives[name].release()
            while not stop.wait(0.005):
                if name in fatal:
                    fatal.discard(name)
                    raise Death

        return live

    crew = Crew({name: work(name) for name in lives}, stop, health)
    crew.start()
    for count, name in enumerate(lives, start=1):
        assert lives[name].acquire(timeout=DEADLINE_S)
        before = threading.active_count()
        fatal.add(name)
        until(lambda before=before: threading.active_count() < before)  # type: ignore[misc]
        crew.heal()
        assert lives[name].acquire(timeout=DEADLINE_S), name
        assert health.counts == {"threads-restarted": count}
    stop.set()
    crew.join(DEADLINE_S)
    crew.heal()
    assert health.counts == {"threads-restarted": 3}
