"""Signs of life: how the watcher fares, that all is well, and a ping to somewhere outside."""

import logging
from collections.abc import Iterable

from noonpot.app.messengers import Messengers
from noonpot.app.upkeep import Upkeep
from noonpot.core.payloads import health_payload
from noonpot.core.wording import Wording
from noonpot.engine.allwell import AllWell
from noonpot.engine.watch import Watch
from noonpot.notify.ping import Ping
from noonpot.ports import Batch, Clock, Health, Journal
from noonpot.schedule import Housekeeping
from noonpot.settings.values import SignsOfLife

log = logging.getLogger(__name__)

EVERY_S = 60.0


class LifeSigns:
    """Gives a sign every minute. The ping is sent only if a round of work that was really done has
    called ``beat`` since the last one.
    """

    def __init__(
        self,
        station: str,
        signs: SignsOfLife,
        wording: Wording,
        clock: Clock,
        health: Health,
        messengers: Messengers,
        upkeep: Upkeep | None = None,
    ) -> None:
        self._station = station
        self._clock = clock
        self._health = health
        self._messengers = messengers
        self._upkeep = upkeep
        self._all_well = AllWell(station, wording, signs.all_well_s)
        self._ping = Ping(signs.url) if signs.url else None
        self._ping_problem = ""
        self._beaten = False
        self._sequence = 0

    def every_minute(self, jobs: Housekeeping, watches: Iterable[Watch], journal: Journal) -> None:
        """Begin, and have it all done by the housekeeping, each sign by itself: one may have to
        wait.
        """
        self.show_health()
        jobs.every(EVERY_S, self.show_health, "health")
        jobs.every(EVERY_S, lambda: self.reassure(watches, journal), "all-well")
        if self._ping is not None:
            jobs.every(EVERY_S, self.ping, "ping")

    def beat(self) -> None:
        """A round of work was done, and every part made progress."""
        self._beaten = True

    def told(self) -> None:
        """There is something to tell a person."""
        self._all_well.heard()

    def show_health(self) -> None:
        """How the watcher fares, numbered, so that a gap shows."""
        self._sequence += 1
        lines = {channel: line() for channel, line in self._messengers.lines().items()}
        now, counts, upkeep = self._clock.moment(), dict(self._health.counts), self._upkeep
        backup = None if upkeep is None else upkeep.state()
        readings = None if upkeep is None else upkeep.readings()
        payload = health_payload(
            self._station, now, self._sequence, lines, counts, backup, readings
        )
        self._messengers.show("health", payload)

    def reassure(self, watches: Iterable[Watch], journal: Journal) -> None:
        """Say that all is well where nothing was said for long."""
        now = self._clock.moment()
        alerts = [alert for watch in watches if (alert := self._all_well.due(watch, now))]
        if alerts:
            journal.write(now, Batch(alerts=alerts))
            self._messengers.kick()

    def ping(self) -> None:
        """Tell the place outside that all goes on, unless it does not."""
        if self._ping is None or not self._beaten:
            return
        self._beaten = False
        problem = self._ping.send()
        self._health.count("ping-failures" if problem else "pings")
        if problem != self._ping_problem:
            log.warning("the address of [deadman]: %s", problem or "it answers again")
            self._ping_problem = problem
