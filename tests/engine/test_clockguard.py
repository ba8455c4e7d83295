"""The wall clock against the monotonic one."""

import pytest

from fakes import FakeClock
from noonpot.engine.clockguard import ClockGuard


def test_a_steady_clock_is_no_step() -> None:
    clock = FakeClock()
    guard = ClockGuard(clock.moment())
    assert all(guard.check(clock.advance(1)) is None for _ in range(100))


@pytest.mark.parametrize("shift_s", [-3600, 3600, -86_400, 86_400, -315_576_000, 56 * 31_557_600])
def test_a_step_is_measured_once(shift_s: float) -> None:
    clock = FakeClock()
    guard = ClockGuard(clock.moment())
    clock.step_wall(shift_s)
    step = guard.check(clock.advance(1))
    assert step is not None
    assert step.shift_s == pytest.approx(shift_s)
    assert guard.check(clock.advance(1)) is None


def test_two_seconds_are_tolerated_and_slow_corrections_never_add_up() -> None:
    clock = FakeClock()
    guard = ClockGuard(clock.moment())
    for _ in range(10_000):
        clock.step_wall(0.0005)  # the kernel corrects by at most 500 millionths
        assert guard.check(clock.advance(1)) is None


def test_the_first_setting_of_the_clock_is_told_even_when_it_was_right() -> None:
    clock = FakeClock()
    clock.trust(False)
    guard = ClockGuard(clock.moment())
    assert guard.check(clock.advance(1)) is None
    clock.trust(True)
    step = guard.check(clock.advance(1))
    assert step is not None
    assert (step.was_trusted, step.trusted, round(step.shift_s)) == (False, True, 0)
