"""Threads that work until they are told to stop; one that dies before is replaced."""

import logging
import threading
from collections.abc import Callable, Mapping

from noonpot.ports import Health, Signal

log = logging.getLogger(__name__)

Work = Callable[[Signal], None]


class Crew:
    """One thread for each name, doing its work until ``stop`` is given."""

    def __init__(self, works: Mapping[str, Work], stop: Signal, health: Health) -> None:
        self._works = works
        self._stop = stop
        self._health = health
        self._threads: dict[str, threading.Thread] = {}

    def start(self) -> None:
        """Let everybody begin."""
        for name in self._works:
            self._launch(name)

    def heal(self) -> None:
        """Replace whoever died; call it every few seconds."""
        dead = [name for name, thread in self._threads.items() if not thread.is_alive()]
        for name in [] if self._stop.is_set() else dead:
            log.error("thread %s has died and is started again", name)
            self._health.count("threads-restarted")
            self._launch(name)

    def join(self, timeout_s: float) -> None:
        """Wait for everybody, so many seconds each at most, once ``stop`` is given."""
        for thread in self._threads.values():
            thread.join(timeout_s)

    def _launch(self, name: str) -> None:
        thread = threading.Thread(
            target=self._works[name], args=(self._stop,), name=name, daemon=True
        )
        self._threads[name] = thread
        thread.start()
