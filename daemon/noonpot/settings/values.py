"""What the configuration says, as plain values for the one place that wires the parts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from noonpot.core.foods import Food
from noonpot.core.policy import AlarmPolicy, RuleLimits
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
    options: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MqttAccess:
    """How to reach the message broker. ``protocol`` is "5" or "3.1.1"."""

    host: str
    port: int
    protocol: str
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls_ca: Path | None = None


@dataclass(frozen=True, slots=True)
class InfluxAccess:
    """How to reach the time-series server."""

    url: str
    org: str
    bucket: str
    token: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class Settings:
    """The whole configuration. ``units`` is "C" or "F"; ``max_rates`` holds the fastest believable
    change of each temperature probe by its name [°C/s]; ``mqtt`` and ``influx`` are None when their
    section is missing.
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
    foods: Mapping[str, Food]
    rescue: OtherHeat
    mqtt: MqttAccess | None
    influx: InfluxAccess | None
