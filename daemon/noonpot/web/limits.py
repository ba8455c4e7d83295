"""How much a viewer may ask for, so that one flood leaves room for the others."""

from collections import OrderedDict
from dataclasses import dataclass

from noonpot.ports import Clock

MOST_REMEMBERED = 1000


@dataclass(frozen=True, slots=True)
class Pace:
    """``burst`` requests at once, and ``each_s`` more a second."""

    burst: int
    each_s: float


@dataclass(frozen=True, slots=True)
class Limits:
    """The bounds of the page: what one address may look at and do, how often it may try a
    passphrase, and how often all together, so that no stranger uses up the tries of the others; how
    many may watch live, and what a body may hold [bytes] and take [s].
    """

    look: Pace = Pace(400, 40.0)
    act: Pace = Pace(60, 5.0)
    sign_in: Pace = Pace(5, 5 / 60)
    all_sign_in: Pace = Pace(40, 0.5)
    viewers: int = 20
    body: int = 64 * 1024
    body_s: float = 10.0
    answer_s: float = 6.0


class Turnstile:
    """Lets through what keeps a pace, for each name by itself."""

    def __init__(self, pace: Pace, clock: Clock) -> None:
        self._pace = pace
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, name: str) -> float:
        """0 when it may pass, else after how long it may [s]."""
        now_s = self._clock.moment().mono_s
        left, before_s = self._left.pop(name, (float(self._pace.burst), now_s))
        left = min(self._pace.burst, left + (now_s - before_s) * self._pace.each_s)
        passes = left >= 1
        self._left[name] = (left - 1 if passes else left, now_s)
        if len(self._left) > MOST_REMEMBERED:
            self._left.popitem(last=False)
        return 0.0 if passes else (1 - left) / self._pace.each_s
