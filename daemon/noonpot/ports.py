"""The sockets of the house: what the engine expects of clocks, buses, stores and messengers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Protocol

from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert
from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.readings import Defect, Measured, Sample
from noonpot.core.station import Place
from noonpot.core.sun import DayTable


class Signal(Protocol):
    """Something a thread can wait for, as ``threading.Event`` is."""

    def is_set(self) -> bool:
        """Whether it was given."""

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until it is given, at most ``timeout`` seconds; True when it was."""


class Clock(Protocol):
    """The only source of time."""

    @property
    def boot_id(self) -> str:
        """Changes whenever the monotonic clock starts anew."""

    def moment(self) -> Moment:
        """Now, on both clocks."""

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        """Wait for the signal, at most so many seconds of this clock; True when it was given."""


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that answers on a bus: its address there and what it is, in words."""

    address: str
    description: str


class Bus(Protocol):
    """Some probes that must be read in turn, by one thread.

    ``read`` never raises for a failed reading: it returns a ``Defect``. It may block, and it may
    hang: the poller guards against that.
    """

    def scan(self) -> Sequence[Found]:
        """Everything that answers now."""

    def read(self, address: str) -> Measured | Defect:
        """One measurement of the probe at this address."""

    def notice(self, event: Event) -> None:
        """Hear of an event. Real buses ignore it; a simulated cooker lets it happen."""

    def close(self) -> None:
        """Give back what the bus holds."""


class SunTable(Protocol):
    """Sun and clear sky by the day."""

    def day(self, place: Place, day: date) -> DayTable:
        """The table of one solar day, see ``core.sun.solar_date``.

        Raises SunTableError when it cannot be had.
        """


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a bus driver may use besides its own options."""

    clock: Clock
    place: Place
    sun: SunTable


class BusFactory(Protocol):
    """What an entry point of the group ``noonpot.probes`` provides.

    ``options`` are the keys of the ``[[bus]]`` section besides ``name`` and ``driver``. A factory
    checks them all and raises ``BusError`` with a sentence for a key it does not know.
    """

    def __call__(self, options: Mapping[str, object], surroundings: Surroundings) -> Bus:
        """Open the bus."""


@dataclass(frozen=True, slots=True)
class Given:
    """A forecast as it was given, and the id of its cook."""

    cook: int
    forecast: Forecast


@dataclass(frozen=True, slots=True)
class Batch:
    """All that one round has to leave behind; it is written whole or not at all."""

    samples: Sequence[Sample] = ()
    events: Sequence[Event] = ()
    cooks: Sequence[Cook] = ()
    alarms: Sequence[AlarmRecord] = ()
    alerts: Sequence[Alert] = ()
    forecasts: Sequence[Given] = ()
    calibrations: Sequence[Calibration] = ()


class Past(Protocol):
    """What probes and people said, for whoever takes up a cook that is under way."""

    def samples_since(self, cook: Cook, probe: str) -> Sequence[Sample]:
        """The readings of one probe since a cook began, in their order, by the clock as it is now,
        whatever it was set to meanwhile.
        """

    def events_since(self, cook: Cook) -> Sequence[Event]:
        """The last aiming of its cooker before a cook, and the events since, in their order, by the
        clock as it is now.
        """


class Journal(Past, Protocol):
    """The store as the engine sees it: written in batches, read back at start."""

    def write(self, moment: Moment, batch: Batch) -> Sequence[Cook]:
        """Write the batch in one transaction; returns its cooks with their ids filled in."""

    def take_back(self, moment: Moment, undo: Event) -> Cook | None:
        """Take back what was said a moment ago. Returns the cook as it is without it, None when it
        was no part of one. Raises CookError when that cannot be.
        """

    def running_cooks(self) -> Sequence[Cook]:
        """Cooks that were begun and not stopped."""

    def alarm_records(self) -> Sequence[AlarmRecord]:
        """The last known state of every alarm, timers moved onto the present monotonic clock."""

    def calibrations(self) -> Mapping[str, Calibration]:
        """The last calibration of each probe that ever had one."""


class Outbox(Protocol):
    """Alerts that wait to be told, channel by channel."""

    def unsent(self, channel: str, limit: int) -> Sequence[Alert]:
        """The oldest alerts this channel has not settled yet."""

    def settle(self, channel: str, alert_id: str, outcome: str) -> None:
        """Note for good what became of an alert on this channel: sent, refused or expired."""


@dataclass(frozen=True, slots=True)
class Letter:
    """An event that somebody handed in, and the name under which the inbox keeps it."""

    name: str
    event: Event


class Inbox(Protocol):
    """Events that people hand in. A letter stays until it is done with, so a crash loses none."""

    def take(self) -> Sequence[Letter]:
        """All letters that wait, oldest first."""

    def done(self, letter: Letter) -> None:
        """The event is in the store: put the letter away."""

    def refuse(self, letter: Letter, reason: str) -> None:
        """The event does not fit: keep the letter aside, with the reason for its writer."""


class Outcome(StrEnum):
    """What became of one attempt to tell. UNSURE: it was handed over, and perhaps not taken."""

    SENT = "sent"
    RETRY = "retry"
    UNSURE = "unsure"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Delivery:
    """The outcome of one attempt, and the reason in words when it failed."""

    outcome: Outcome
    reason: str = ""


class Notifier(Protocol):
    """One way to reach people."""

    @property
    def channel(self) -> str:
        """The name under which the outbox keeps account of it."""

    def tell(self, alert: Alert) -> Delivery:
        """Try to deliver one alert; returns within half a minute whatever happens."""

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Make a state visible to whoever looks, replacing the last one of the topic; best effort.
        ``topic`` is relative to the station, for instance ``box/now``.
        """

    def close(self) -> None:
        """Say goodbye and give back what is held."""


@dataclass(slots=True)
class Health:
    """Counters that the watcher keeps about itself, by name."""

    counts: dict[str, int] = field(default_factory=dict)

    def count(self, name: str, by: int = 1) -> None:
        """Add to a counter."""
        self.counts[name] = self.counts.get(name, 0) + by
