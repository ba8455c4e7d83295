"""``noonpot check``: every part tried for real, every mistake told at once."""

import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from noonpot import __version__
from noonpot.app.buses import open_bus
from noonpot.app.calibrating import last_calibrations, true_c
from noonpot.app.finding import surroundings
from noonpot.app.machine import DATA_FILE, TIMESYNCD, open_store, system_clock
from noonpot.app.running import mqtt_options
from noonpot.core.calibration import standing
from noonpot.core.faultwords import WORDS
from noonpot.core.readings import Defect, Role
from noonpot.core.sun import solar_date
from noonpot.errors import BusError, ConfigError, NoonpotError, NotifierError, StoreError
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Bus, Clock, Health, SunTable
from noonpot.settings.reading import load
from noonpot.settings.values import InfluxAccess, MqttAccess, PushAccess, Settings
from noonpot.store.reader import Reader
from noonpot.uplink.client import Point
from noonpot.uplink.influx import Uplink

BROKER_S = 5.0


@dataclass(frozen=True, slots=True)
class Finding:
    """What was tried, whether it works, and what can be said of it."""

    what: str
    good: bool
    words: str


def findings(file: Path) -> Iterator[Finding]:
    """Everything tried in turn. Raises ConfigError with all mistakes of the file, bus options
    included.
    """
    settings = load(file)
    clock = system_clock()
    around = surroundings(settings, clock)
    buses: dict[str, Bus] = {}
    mistakes = []
    for section in settings.buses:
        try:
            buses[section.name] = open_bus(section, around)
        except BusError as error:
            mistakes.append(str(error))
    if mistakes:
        raise ConfigError(str(file), mistakes)
    yield Finding("configuration", good=True, words=f"{file} is in order")
    yield from _probes(settings, buses, clock)
    yield _clock(clock)
    yield _sun(settings, clock, around.sun)
    yield _store(settings, clock)
    if settings.mqtt is not None:
        yield _broker(settings.station.name, settings.mqtt, clock)
    if settings.push is not None:
        yield _push(settings.station.name, settings.push)
    if settings.influx is not None:
        yield _server(settings.station.name, settings.influx, clock)


def _probes(settings: Settings, buses: dict[str, Bus], clock: Clock) -> Iterator[Finding]:
    known, now = last_calibrations(settings, clock), clock.moment().at
    for probe in settings.station.probes:
        outcome = buses[probe.bus].read(probe.address)
        what = f"probe {probe.name}"
        if isinstance(outcome, Defect):
            words = f"{outcome.kind}: {WORDS[outcome.kind].phrase}"
            seen = f" ({outcome.detail})" if outcome.detail else ""
            yield Finding(what, good=False, words=words + seen)
        elif probe.role is Role.IRRADIANCE:
            yield Finding(what, good=True, words=f"{outcome.value:.1f} W/m²")
        else:
            value_c = true_c(known, probe, outcome.value)
            hint = standing(known.get(probe.name), probe, now).words
            yield Finding(what, good=True, words=f"{value_c:.1f} °C, {hint}")
    for bus in buses.values():
        bus.close()


def _clock(clock: Clock) -> Finding:
    now = clock.moment()
    if not TIMESYNCD.exists():
        return Finding("clock", good=True, words="set by another service than systemd-timesyncd")
    words = "set by the network" if now.trusted else "not set yet: sun reminders wait for it"
    return Finding("clock", good=now.trusted, words=words)


def _sun(settings: Settings, clock: Clock, sun: SunTable) -> Finding:
    place = settings.station.place
    try:
        sun.day(place, solar_date(clock.moment().at, place.longitude))
    except NoonpotError as error:
        return Finding("sun", good=False, words=str(error))
    return Finding("sun", good=True, words="today's table is at hand")


def _store(settings: Settings, clock: Clock) -> Finding:
    file = settings.data / DATA_FILE
    try:
        with open_store(settings, clock):
            return Finding("store", good=True, words=f"{file} can be written")
    except StoreError as error:
        try:
            Reader(file, clock).cooks()
        except StoreError:
            return Finding("store", good=False, words=str(error))
        return Finding("store", good=True, words=f"{file} is in use by a running daemon")


def _broker(station: str, access: MqttAccess, clock: Clock) -> Finding:
    opened = threading.Event()
    notifier = MqttNotifier(
        checking(station, access), clock, Health(), version=__version__, on_open=opened.set
    )
    clock.wait(opened, BROKER_S)
    problem = notifier.problem
    notifier.close()
    where = f"{access.host} port {access.port}"
    if problem is not None:
        return Finding("broker", good=False, words=f"{where}: {problem.text}")
    return Finding("broker", good=True, words=f"{where} lets us in")


def checking(station: str, access: MqttAccess) -> MqttOptions:
    """The broker's section for a check. It goes by another name than the daemon, for of two clients
    with one name a broker cuts one off; its alerts are heard as those of the station.
    """
    return replace(mqtt_options(f"{station}-check", access), alerts_of=station)


def _push(station: str, access: PushAccess) -> Finding:
    """Nothing is sent: whether the services take a message, only ``--test-alert`` tells."""
    try:
        notifier = PushNotifier(PushOptions(station, access.addresses), Health())
    except NotifierError as error:
        return Finding("push", good=False, words=str(error))
    failed = [answer.sentence for answer in notifier.ask() if answer.words]
    if failed:
        return Finding("push", good=False, words="; ".join(failed))
    number = len(access.addresses)
    words = f"{number} address{'es' if number > 1 else ''} understood; --test-alert tries"
    return Finding("push", good=True, words=words)


def _server(station: str, access: InfluxAccess, clock: Clock) -> Finding:
    try:
        uplink = Uplink(_Nothing(), access, station, clock)
        uplink.reach()
    except NoonpotError as error:
        return Finding("server", good=False, words=str(error))
    uplink.close()
    return Finding("server", good=True, words=f"{access.url} answers")


class _Nothing:
    """A source with nothing to send."""

    def outgoing(self, _sink: str, _limit: int) -> Sequence[Point]:
        """Nothing."""
        return ()

    def delivered(self, _sink: str, _refused: Sequence[tuple[str, str]] = ()) -> None:
        """Nothing was."""

    def waiting(self, _sink: str) -> int:
        """None."""
        return 0
