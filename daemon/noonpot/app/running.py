"""The daemon as a service: made from a configuration file, ended by a signal."""

import logging
import signal
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

from noonpot import __version__
from noonpot.app.buses import opened
from noonpot.app.daemon import Daemon, Parts
from noonpot.app.hearing import commands, signals
from noonpot.app.machine import DATA_FILE, open_or_mend, system_clock
from noonpot.app.pagekeeper import PageKeeper, serving
from noonpot.app.shelter import shelter
from noonpot.app.supply import Supply
from noonpot.app.teaching import Teacher, known
from noonpot.app.upkeep import Upkeep
from noonpot.core.cook import Aim
from noonpot.core.stationfacts import Mended
from noonpot.errors import StoreFullError, StoreUnwritableError
from noonpot.notify.console import ConsoleNotifier
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Clock, Health, Notifier, Surroundings
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.reading import load
from noonpot.settings.values import MqttAccess, Settings
from noonpot.store.sqlite import Store
from noonpot.suntable import SunTables
from noonpot.uplink.influx import Uplink


def mqtt_options(station: str, access: MqttAccess) -> MqttOptions:
    """The broker's section of the configuration as the notifier wants it."""
    return MqttOptions(
        host=access.host,
        port=access.port,
        station=station,
        username=access.username,
        password=access.password,
        tls_ca=access.tls_ca,
        protocol="3.1.1" if access.protocol == "3.1.1" else "5",
    )


def run(file: Path) -> None:
    """Run the daemon until it is told to stop.

    Raises ConfigError with every mistake of the file, and StoreError when its data cannot be used.
    """
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s %(message)s")
    with made(file) as daemon:
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: _end(daemon))
        daemon.run()


@contextmanager
def made(file: Path) -> Iterator[Daemon]:
    """The daemon of a configuration file, its parts closed at the end."""
    settings = load(file)
    clock, health = system_clock(), Health()
    daemons: list[Daemon] = []  # none yet when the broker is quick to let us in

    def wake() -> None:
        for daemon in daemons:
            daemon.kick()

    def where() -> Aim | None:
        return daemons[0].sun() if daemons else None

    with ExitStack() as stack:
        settings, store, mended = _data(settings, clock, stack)
        stack.enter_context(store)
        sun = SunTables(store)
        surroundings = Surroundings(clock, settings.station.place, sun)
        buses = stack.enter_context(opened(str(file), settings.buses, surroundings))
        notifiers: list[Notifier] = [ConsoleNotifier(sys.stdout)]
        if settings.mqtt is not None:
            options = mqtt_options(settings.station.name, settings.mqtt)
            notifiers.append(
                MqttNotifier(
                    options,
                    clock,
                    health,
                    version=__version__,
                    on_open=wake,
                    commands=commands(settings, clock, health, wake),
                )
            )
        if settings.push is not None:
            push = PushOptions(settings.station.name, settings.push.addresses)
            notifiers.append(PushNotifier(push, health))
        panel = signals(settings, clock, health, sun=where, wake=wake)
        if panel is not None:
            notifiers.append(panel)
        pages = _pages(file, settings)
        notifiers += pages
        for notifier in notifiers:
            stack.callback(notifier.close)
        uplink = None
        if settings.influx is not None:
            uplink = Uplink(store, settings.influx, settings.station.name, clock)
            stack.callback(uplink.close)
        knowledge = known(settings)
        teacher = Teacher(file, settings, knowledge)
        notice = ServiceNotice()
        parts = Parts(
            clock,
            store,
            buses,
            sun,
            notifiers,
            health,
            notice,
            uplink,
            teacher,
            knowledge,
            Supply(),
            Upkeep(settings, settings.data / DATA_FILE, clock, health, store),
            mended,
        )
        daemons.append(Daemon(settings, parts))
        for page in pages:
            page.start()
        yield daemons[0]


def _data(
    settings: Settings, clock: Clock, stack: ExitStack
) -> tuple[Settings, Store, Mended | None]:
    """The data file, one in memory where the card takes none, and the settings that name it."""
    try:
        store, mended = open_or_mend(settings, clock)
        if mended is not None and mended.newer:  # its backups would push out those of the other
            settings = replace(settings, backup=replace(settings.backup, enabled=False))
    except (StoreFullError, StoreUnwritableError) as error:
        settings, mended = stack.enter_context(shelter(settings, clock, error))
        store, _ = open_or_mend(settings, clock)
    return settings, store, mended


def _pages(file: Path, settings: Settings) -> list[PageKeeper]:
    """The page, if it is wished for."""
    if not settings.page.enabled:
        return []
    return [PageKeeper(settings.station.name, serving(file, settings), system_clock())]


def _end(daemon: Daemon) -> None:
    daemon.stop.set()
    daemon.kick()
