"""The daemon: every part made, joined, started and stopped in the right order."""

import logging
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from noonpot.app.teaching import Teacher
from noonpot.clock import SystemClock
from noonpot.core.filtering import ProbeFilter
from noonpot.core.learning import Knowledge
from noonpot.core.moment import Moment
from noonpot.core.wording import Wording
from noonpot.declination import declination
from noonpot.engine.daylight import Daylight
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.poller import Poller
from noonpot.engine.rounds import Rounds
from noonpot.engine.watch import Household, Watch
from noonpot.notify.mqtt import MqttNotifier
from noonpot.ports import Bus, Clock, Health, Notifier, SunTable
from noonpot.schedule import Housekeeping
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.values import Settings
from noonpot.store.inbox import FileInbox
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import Uplink

log = logging.getLogger(__name__)

SUPERVISE_S = 5.0
UPLINK_S = 10.0
SUN_S = 600.0
TEACH_S = 600.0
STOP_S = 5.0
NO_LIMIT = float("inf")  # light leaps with every cloud


def household(settings: Settings, when: datetime, knowledge: Mapping[str, Knowledge]) -> Household:
    """What all watches share, from the configuration and from past cooks."""
    compass = declination(settings.station.place, when)
    return Household(
        station=settings.station,
        foods=settings.foods,
        policies=settings.policies,
        limits=settings.limits,
        wording=Wording(settings.units, settings.timezone, compass.degrees),
        knowledge=knowledge,
        heat=settings.rescue,
    )


@dataclass(frozen=True, slots=True)
class Parts:
    """What a daemon is made of besides its settings; a demo brings other clocks and messengers."""

    clock: Clock
    store: Store
    buses: Mapping[str, Bus]
    sun: SunTable
    notifiers: Sequence[Notifier]
    health: Health
    notice: ServiceNotice
    uplink: Uplink | None = None
    teacher: Teacher | None = None
    knowledge: dict[str, Knowledge] = field(default_factory=dict)


class Daemon:
    """Watches all cookers of a station until it is told to stop."""

    def __init__(self, settings: Settings, parts: Parts) -> None:
        now, station = parts.clock.moment(), settings.station
        self.stop = threading.Event()
        self.watches: dict[str, Watch] = {}
        self._parts = parts
        self._daylight = Daylight(station.place, parts.sun)
        house = household(settings, now.at, parts.knowledge)
        parts.store.register(station.probes)
        for cooker in station.cookers:
            self.watches[cooker.name] = Watch(cooker, house, self._daylight, now)
        self._pipeline = Pipeline(
            station.name,
            list(self.watches.values()),
            {p.name: ProbeFilter(settings.max_rates.get(p.name, NO_LIMIT)) for p in station.probes},
            parts.store,
            parts.notifiers,
            parts.health,
            commit_s=settings.poll.commit_s,
            on_alert=self.kick,
        )
        self._poller = Poller(
            parts.buses,
            station.probes,
            parts.clock,
            parts.health,
            interval_s=settings.poll.interval_s,
            hang_s=settings.poll.hang_s,
        )
        self._dispatchers = [
            Dispatcher(n, parts.store, parts.clock, parts.health) for n in parts.notifiers
        ]
        self._threads = [
            threading.Thread(target=d.run, args=(self.stop,), name=f"tell-{n.channel}", daemon=True)
            for d, n in zip(self._dispatchers, parts.notifiers, strict=True)
        ]
        self._rounds = Rounds(
            parts.clock,
            self._poller,
            self._pipeline,
            FileInbox(settings.data / "inbox", parts.store.knows_event),
            list(parts.buses.values()),
            alive=self._alive,
            beat=parts.notice.alive,
        )
        self._jobs = Housekeeping(SystemClock(), parts.health)
        self._uplink_problem = ""

    def run(self) -> None:
        """Watch until ``stop`` is given. Sampling begins first; all else may take its time."""
        self._poller.start()
        with self._helpers():
            self._pipeline.resume(self._parts.clock.moment())
            self._parts.notice.ready()
            self._rounds.run(self.stop)
            self._parts.notice.stopping()
        self._poller.stop()

    def kick(self) -> None:
        """Wake everybody: alerts wait, a channel came back, or it is time to stop."""
        self._poller.news.set()
        for dispatcher in self._dispatchers:
            dispatcher.kick()

    @contextmanager
    def _helpers(self) -> Iterator[None]:
        """The threads around the rounds."""
        for thread in self._threads:
            thread.start()
        self._jobs.every(SUN_S, self._fetch_sun, "sun")
        for notifier in self._parts.notifiers:
            if isinstance(notifier, MqttNotifier):
                self._jobs.every(SUPERVISE_S, notifier.supervise, "mqtt")
        if self._parts.uplink is not None:
            self._jobs.every(UPLINK_S, partial(self._send_up, self._parts.uplink), "uplink")
        if self._parts.teacher is not None:
            self._jobs.every(TEACH_S, self._parts.teacher.teach, "lessons")
        self._jobs.start()
        fetching = threading.Thread(target=self._fetch_sun, name="sun", daemon=True)
        fetching.start()
        try:
            yield
        finally:
            self.stop.set()
            self.kick()
            self._jobs.shutdown(wait=False)
            for thread in self._threads:
                thread.join(STOP_S)

    def _fetch_sun(self) -> None:
        self._daylight.fetch(self._parts.clock.moment().at)

    def _send_up(self, uplink: Uplink) -> None:
        """Send to the time-series server until it has all, or has to be waited for."""
        while not self.stop.is_set():
            progress = uplink.push()
            if progress.problem != self._uplink_problem:
                log.warning("%s", progress.problem or "the time-series server takes points again")
                self._uplink_problem = progress.problem
            if progress.next_try_s > 0:
                return

    def _alive(self, now: Moment) -> bool:
        """Whether every part made progress; only then is the watchdog told that all is well."""
        if self.stop.is_set():
            return True
        stalled = self._poller.stalled(now)
        dead = [thread.name for thread in self._threads if not thread.is_alive()]
        if stalled or dead:
            log.error("no progress: buses %s, threads %s", stalled, dead)
        return not stalled and not dead
