"""What a station says of itself, as somebody sees it who watches many: only what a list of them
shows, so that many fit into little memory. docs/messages.md shows the whole messages.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Priority
from noonpot.core.names import is_name
from noonpot.core.payloads import ROOT
from noonpot.core.stationfacts import OWN


class Part(StrEnum):
    """The kinds of messages that are read."""

    STATUS = "status"
    HEALTH = "health"
    NOW = "now"
    FORECAST = "forecast"
    ALARM = "alarm"


@dataclass(frozen=True, slots=True)
class Address:
    """Of whom a topic speaks; ``cooker`` is "" for the station itself, ``alarm`` "" for none."""

    part: Part
    station: str
    cooker: str = ""
    alarm: str = ""


@dataclass(frozen=True, slots=True)
class Presence:
    """Whether the broker can hear the station, since ``at``; with ``last_will`` the broker speaks,
    and ``at`` is when the connection was opened that is now lost.
    """

    at: datetime
    trusted: bool
    online: bool
    last_will: bool
    version: str


@dataclass(frozen=True, slots=True)
class Pulse:
    """How the watcher itself fares: ``problems`` are its channels that reach nobody, and why."""

    at: datetime
    trusted: bool
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stand:
    """How one cooker stands; None is not known. ``cooking``: a cook runs, with food in the pot
    since ``loaded_at`` unless that is None or it was ``emptied``. ``faults`` are the probes that
    cannot be trusted.
    """

    at: datetime
    trusted: bool
    pot_c: float | None
    core_c: float | None
    cooking: bool
    food: str
    mass_kg: float | None
    loaded_at: datetime | None
    emptied: bool
    target_c: float | None
    hazardous: bool
    advice: str
    faults: tuple[str, ...]

    @property
    def loaded(self) -> bool:
        """Whether there is food in the pot."""
        return self.loaded_at is not None and not self.emptied


@dataclass(frozen=True, slots=True)
class Chance:
    """How sure it is that the core reaches its target today, 0 to 1, and when, if it does."""

    at: datetime
    p_done: float
    done_p10: datetime | None
    done_p50: datetime | None
    done_p90: datetime | None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one alarm stands, and since when."""

    at: datetime
    state: AlarmState
    since: datetime
    priority: Priority
    text: str

    @property
    def waits(self) -> bool:
        """Whether a person must still answer."""
        return self.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)

    @property
    def known(self) -> bool:
        """Whether it was answered or put off, and may still hold."""
        return self.state in (AlarmState.ACKNOWLEDGED, AlarmState.SHELVED)


Sighting = Presence | Pulse | Stand | Chance | Standing


def address(topic: str) -> Address:
    """Of whom a topic speaks. Raises ValueError for one that no station would use.

    >>> address("noonpot/garden/box/alarm/done")
    Address(part=<Part.ALARM: 'alarm'>, station='garden', cooker='box', alarm='done')
    """
    match topic.split("/"):
        case [root, station, "status" | "health" as part] if root == ROOT:
            found = Address(Part(part), station)
        case [root, station, cooker, "now" | "forecast" as part] if root == ROOT and cooker != OWN:
            found = Address(Part(part), station, cooker)
        case [root, station, cooker, "alarm", alarm] if root == ROOT:
            found = Address(Part.ALARM, station, cooker, alarm)
        case _:
            raise ValueError("no topic of a station")
    if not all(is_name(name) for name in (found.station, found.cooker, found.alarm) if name):
        raise ValueError("a name in the topic is none")
    if topic.count("//") or topic.endswith("/"):
        raise ValueError("a name in the topic is missing")
    return found
