"""What the configuration says, as plain values for the one place that wires the parts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

from noonpot.core.alert import Priority
from noonpot.core.foods import Food
from noonpot.core.policy import AlarmPolicy, Manners, RuleLimits
from noonpot.core.rescue import OtherHeat
from noonpot.core.station import Station


@dataclass(frozen=True, slots=True)
class Poll:
    """The rhythm of the watcher [s]: how often probes are read, how often readings are written, and
    after what silence a bus is taken to hang.
    """

    interval_s: float = 2.0
    commit_s: float = 10.0
    hang_s: float = 10.0


@dataclass(frozen=True, slots=True)
class BusSection:
    """One bus: its driver, and the options that only the driver understands."""

    name: str
    driver: str
    options: Mapping[str, object] = field(default_factory=dict, repr=False)  # a password, maybe


@dataclass(frozen=True, slots=True)
class MqttAccess:
    """How to reach the message broker. ``protocol`` is "5" or "3.1.1"; ``command_token`` is what
    commands from the phone must bring along, None takes no commands.
    """

    host: str
    port: int
    protocol: str
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls_ca: Path | None = None
    command_token: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class InfluxAccess:
    """How to reach the time-series server."""

    url: str
    org: str
    bucket: str
    token: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class PushAccess:
    """Which push services there are, and how often they may call: what is less important than
    ``least`` is left out, what is due within ``gather_s`` becomes one message, and what may wait
    comes no sooner than ``spacing_s`` after the last one [s].
    """

    addresses: tuple[str, ...] = field(repr=False)
    least: Priority
    gather_s: float
    spacing_s: float


@dataclass(frozen=True, slots=True)
class SignsOfLife:
    """``url``: an address to be fetched each minute while all goes on, None for none.
    ``all_well_s``: after so long a silence during a cook, a person is told that all is well [s], 0
    for never.
    """

    url: str | None = field(default=None, repr=False)
    all_well_s: float = 10_800.0


@dataclass(frozen=True, slots=True)
class LocalSignals:
    """What is wired to the Pi, as GPIO numbers, None for what is not; what is less important than
    ``least`` does not sound.
    """

    buzzer: int | None
    lamp: int | None
    button: int | None
    least: Priority


@dataclass(frozen=True, slots=True)
class PageAccess:
    """Where the page is served: at this address and port, by further host ``names``."""

    enabled: bool = True
    bind: str = "127.0.0.1"
    port: int = 8080
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BackupWishes:
    """When the data file is copied, by the clock of the station, into which folder, and how many
    copies are kept: of ``days`` and of ``weeks`` before. ``folder`` is None for the usual one.
    """

    enabled: bool = True
    folder: Path | None = None
    at: time = time(3)
    days: int = 7
    weeks: int = 4


@dataclass(frozen=True, slots=True)
class ReadingsWishes:
    """For how long readings stay as they were read, counted while the station watches [s], None for
    ever; and what stays of them before and after each cook, whatever its age [s].
    """

    whole_s: int | None = 730 * 86_400
    before_s: int = 2 * 3600
    after_s: int = 6 * 3600


@dataclass(frozen=True, slots=True)
class Settings:
    """The whole configuration. ``units`` is "C" or "F"; ``max_rates`` holds the fastest believable
    change of each temperature probe by its name [°C/s]; ``mqtt``, ``influx`` and ``push`` are None
    when their section is missing.
    """

    station: Station
    units: str
    timezone: ZoneInfo
    data: Path
    poll: Poll
    buses: tuple[BusSection, ...]
    max_rates: Mapping[str, float]
    policies: Mapping[str, AlarmPolicy]
    limits: RuleLimits
    manners: Manners
    foods: Mapping[str, Food]
    rescue: OtherHeat
    mqtt: MqttAccess | None
    influx: InfluxAccess | None
    push: PushAccess | None = None
    signals: LocalSignals | None = None
    deadman: SignsOfLife = field(default_factory=SignsOfLife)
    page: PageAccess = field(default_factory=PageAccess)
    backup: BackupWishes = field(default_factory=BackupWishes)
    readings: ReadingsWishes = field(default_factory=ReadingsWishes)
