"""The daemon: every part made, joined, started and stopped in the right order."""

import logging
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from noonpot.app.hearing import INBOX, AnsweringInbox
from noonpot.app.lifesigns import LifeSigns
from noonpot.app.machine import DATA_FILE
from noonpot.app.messengers import Messengers
from noonpot.app.pagekeeper import PageKeeper
from noonpot.app.supply import Supply
from noonpot.app.surveyor import Surveyor
from noonpot.app.teaching import Teacher
from noonpot.app.upkeep import Upkeep
from noonpot.clock import SystemClock
from noonpot.core.alert import Answer
from noonpot.core.cook import Aim
from noonpot.core.filtering import ProbeFilter
from noonpot.core.learning import Knowledge
from noonpot.core.moment import Moment
from noonpot.core.stationfacts import Mended
from noonpot.core.wording import Wording
from noonpot.declination import declination
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.poller import Poller
from noonpot.engine.rounds import Rounds
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.errors import StoreError
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
SURVEY_S = 20.0
BACKUP_S = 600.0
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
        manners=settings.manners,
    )


@dataclass(frozen=True, slots=True)
class Parts:
    """What a daemon is made of besides its settings; a demo brings other clocks and messengers, and
    no ``supply``: the machine it runs on is none of its story.
    """

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
    supply: Supply | None = None
    upkeep: Upkeep | None = None
    mended: Mended | None = None


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
        self._messengers = Messengers(
            parts.notifiers, settings.push, parts.store, parts.clock, parts.health, self.stop
        )
        self._signs = LifeSigns(
            station.name,
            settings.deadman,
            house.wording,
            parts.clock,
            parts.health,
            self._messengers,
            parts.upkeep,
        )
        self._own = StationWatch(house, now)
        self._own.mended = parts.mended
        self._pipeline = Pipeline(
            station.name,
            list(self.watches.values()),
            {p.name: ProbeFilter(settings.max_rates.get(p.name, NO_LIMIT)) for p in station.probes},
            parts.store,
            self._messengers.brisk,
            parts.health,
            own=self._own,
            live=self._pages(),
            commit_s=settings.poll.commit_s,
            on_alert=self._alerted,
        )
        self._poller = Poller(
            parts.buses,
            station.probes,
            parts.clock,
            parts.health,
            interval_s=settings.poll.interval_s,
            hang_s=settings.poll.hang_s,
        )
        inbox = FileInbox(settings.data / INBOX, parts.store.knows_event, parts.clock)
        self._rounds = Rounds(
            parts.clock,
            self._poller,
            self._pipeline,
            AnsweringInbox(inbox, self._answer),
            list(parts.buses.values()),
            alive=self._alive,
            beat=self._beat,
            tend=self._tend,
        )
        self._surveyor: Surveyor | None = None
        if parts.supply is not None:
            file, lines = settings.data / DATA_FILE, self._messengers.lines()
            self._surveyor = Surveyor(
                parts.clock, parts.store, file, parts.supply, lines, parts.upkeep
            )
        self._jobs = Housekeeping(SystemClock(), parts.health)
        self._uplink_problem = ""

    def run(self) -> None:
        """Watch until ``stop`` is given. Sampling begins first; all else may take its time."""
        self._poller.start()
        with suppress(StoreError):  # a worn out card holds up neither the watch nor its end
            self._parts.store.begin()
        with self._helpers():
            self._pipeline.resume(self._parts.clock.moment())
            self._parts.notice.ready()
            self._rounds.run(self.stop)
            self._parts.notice.stopping()
        self._poller.stop()
        with suppress(StoreError):
            self._parts.store.end()

    def kick(self) -> None:
        """Wake everybody: alerts wait, a channel came back, or it is time to stop."""
        self._poller.news.set()
        self._messengers.kick()

    def sun(self) -> Aim | None:
        """Where a cooker would have to point now, None at night and while that is not known."""
        now = self._parts.clock.moment()
        sky = self._daylight.at(now.at) if now.trusted else None
        if sky is None or sky.elevation_deg <= 0:
            return None
        return Aim(sky.azimuth_deg, sky.elevation_deg)

    @contextmanager
    def _helpers(self) -> Iterator[None]:
        """The threads around the rounds."""
        self._messengers.start()
        self._jobs.every(SUN_S, self._fetch_sun, "sun")
        self._signs.every_minute(self._jobs, self.watches.values(), self._parts.store)
        for notifier in self._parts.notifiers:
            if isinstance(notifier, MqttNotifier):
                self._jobs.every(SUPERVISE_S, notifier.supervise, "mqtt")
        if self._surveyor is not None:
            self._jobs.every(SURVEY_S, partial(self._look_around, self._surveyor), "survey")
        if self._parts.uplink is not None:
            self._jobs.every(UPLINK_S, partial(self._send_up, self._parts.uplink), "uplink")
        if self._parts.teacher is not None:
            self._jobs.every(TEACH_S, self._parts.teacher.teach, "lessons")
        if self._parts.upkeep is not None:
            self._jobs.every(BACKUP_S, partial(self._parts.upkeep.tend, self.stop), "backup")
        self._jobs.start()
        fetching = threading.Thread(target=self._fetch_sun, name="sun", daemon=True)
        fetching.start()
        try:
            yield
        finally:
            self.stop.set()
            self.kick()
            self._jobs.shutdown(wait=False)
            self._messengers.join()

    def _alerted(self) -> None:
        self._signs.told()
        self.kick()

    def _pages(self) -> list[PageKeeper]:
        return [n for n in self._parts.notifiers if isinstance(n, PageKeeper)]

    def _tend(self) -> None:
        self._messengers.heal()
        for page in self._pages():
            page.beat()

    def _beat(self) -> None:
        self._signs.beat()
        self._parts.notice.alive()

    def _answer(self, answer: Answer) -> None:
        for notifier in self._parts.notifiers:
            if isinstance(notifier, MqttNotifier):
                notifier.answer(answer)

    def _fetch_sun(self) -> None:
        self._daylight.fetch(self._parts.clock.moment().at)

    def _look_around(self, surveyor: Surveyor) -> None:
        self._own.survey = surveyor.survey()

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
        stalled = [*self._poller.stalled(now), *self._messengers.stalled(now)]
        if self._jobs.stalled():
            stalled.append("housekeeping")
        if stalled:
            log.error("no progress: %s", ", ".join(stalled))
        return not stalled
