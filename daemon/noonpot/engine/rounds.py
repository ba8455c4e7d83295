"""The daemon's heart: round after round, and a sign of life only when real work was done."""

import logging
from collections.abc import Callable, Sequence

from noonpot.core.moment import Moment
from noonpot.engine.clockguard import ClockGuard
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.poller import Poller
from noonpot.ports import Bus, Clock, Inbox, Letter, Signal

log = logging.getLogger(__name__)

IDLE_S = 1.0
BEAT_S = 15.0
TEND_S = 5.0


class Rounds:
    """Waits for news from the buses and from people, and carries it through the pipeline.

    ``tend`` looks after the other threads every few seconds; ``beat`` is the sign of life, given
    while ``alive`` says that every part makes progress.
    """

    def __init__(  # noqa: PLR0913  nothing is global
        self,
        clock: Clock,
        poller: Poller,
        pipeline: Pipeline,
        inbox: Inbox,
        buses: Sequence[Bus],
        *,
        alive: Callable[[Moment], bool],
        beat: Callable[[], None],
        tend: Callable[[], None] = lambda: None,
    ) -> None:
        self._clock = clock
        self._poller = poller
        self._pipeline = pipeline
        self._inbox = inbox
        self._buses = buses
        self._guard = ClockGuard(clock.moment())
        self._alive = alive
        self._beat = beat
        self._beaten_s = float("-inf")
        self._tend = tend
        self._tended_s = float("-inf")
        self._unwritten: list[Letter] = []

    def run(self, stop: Signal) -> None:
        """Go round until told to stop; what was read until then is written down."""
        while not stop.is_set():
            self._clock.wait(self._poller.news, IDLE_S)
            self.once()
        self._pipeline.write(self._clock.moment())

    def once(self) -> None:
        """One round."""
        now = self._clock.moment()
        step = self._guard.check(now)
        if step is not None:
            log.warning("clock stepped by %.1f s, trusted=%s", step.shift_s, step.trusted)
            self._pipeline.clock_stepped(step, now)
        letters = self._inbox.take()
        refused = self._pipeline.round(
            now, self._poller.collect(), [letter.event for letter in letters]
        )
        for index, letter in enumerate(letters):
            if index in refused:
                log.warning("refused: %s", refused[index])
                self._inbox.refuse(letter, refused[index])
                continue
            self._unwritten.append(letter)
            for bus in self._buses:
                bus.notice(letter.event)
        if not self._pipeline.waiting:
            for letter in self._unwritten:
                self._inbox.done(letter)
            self._unwritten.clear()
        if now.mono_s - self._tended_s >= TEND_S:
            self._tended_s = now.mono_s
            self._tend()
        if now.mono_s - self._beaten_s >= BEAT_S and self._alive(now):
            self._beaten_s = now.mono_s
            self._beat()
