"""Notices when the wall clock jumps, by holding it against the monotonic one."""

from dataclasses import dataclass

from noonpot.core.moment import Moment

TOLERANCE_S = 2.0


@dataclass(frozen=True, slots=True)
class ClockStep:
    """The wall clock jumped ``shift_s`` seconds forward (negative: back) against the monotonic one.

    ``was_trusted`` is False when the clock had not been set since boot: what was written until
    then carries the wrong time and is to be moved by ``shift_s``. ``trusted`` is whether it is now.
    """

    shift_s: float
    was_trusted: bool
    trusted: bool


class ClockGuard:
    """Remembers the distance of the two clocks."""

    def __init__(self, now: Moment) -> None:
        self._last = now

    def check(self, now: Moment) -> ClockStep | None:
        """The step since the last look, None when there was none.

        Slow corrections, a fraction of a second between two looks, pass unnoticed on purpose.
        """
        last, self._last = self._last, now
        shift_s = (now.at - last.at).total_seconds() - (now.mono_s - last.mono_s)
        if abs(shift_s) <= TOLERANCE_S and now.trusted == last.trusted:
            return None
        return ClockStep(shift_s, last.trusted, now.trusted)
