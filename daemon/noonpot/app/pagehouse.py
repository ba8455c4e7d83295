"""What the page is told of the house: the data file, the inbox, plans, and the configuration."""

import os
import re
import socket
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from noonpot import __version__, web
from noonpot.almanac import Almanac
from noonpot.app import reporting
from noonpot.app.hearing import INBOX
from noonpot.app.machine import DATA_FILE
from noonpot.app.pagekeeper import KEYS
from noonpot.app.pageplan import PlanProcess
from noonpot.app.pagerating import RatingProcess
from noonpot.core.cook import Event
from noonpot.core.recording import Recording
from noonpot.core.water import boiling_point_c
from noonpot.declination import declination
from noonpot.errors import StoreError
from noonpot.ports import Clock
from noonpot.settings.values import Settings
from noonpot.store.export import export
from noonpot.store.inbox import REFUSED, SUFFIX, hand_in, refusal, waiting
from noonpot.store.reader import Reader
from noonpot.suntable import SunTables
from noonpot.web.board import Board
from noonpot.web.house import About, Access, Card, House
from noonpot.web.keyring import Keyring

REPLAYED = timedelta(days=1)
"""An act that comes again comes within seconds; a day is for a phone that was in a pocket."""


@dataclass(frozen=True, slots=True)
class Serving:
    """How the page is served this time. ``clock`` is the station's, ``life`` the viewers' own."""

    config: Path
    bind: str
    code: str | None
    clock: Clock
    life: Clock


class PageArchive(Reader):
    """The data file, and how it fares."""

    def __init__(self, settings: Settings, clock: Clock) -> None:
        self._file = settings.data / DATA_FILE
        self._settings = settings
        self._sun = SunTables(Almanac(None), self)  # nothing is kept: the daemon keeps its days
        super().__init__(self._file, clock, whole=False)

    def recording(self, cook: int) -> Recording:
        """A cook as a recording. Raises CookError when there is no such cook."""
        return export(self, cook, self._settings.station, self._clock.moment().at)

    def report(self, cook: int) -> str:
        """The report of a cook. Raises CookError when there is no such cook."""
        now = self._clock.moment().at
        return reporting.html(reporting.report_of(cook, self._settings, self, self._sun, now))

    def card(self) -> Card:
        """The size of the file, what is free around it, and why it cannot be read."""
        size = free = problem = log = None
        try:
            size = self._file.stat().st_size
            around = os.statvfs(self._file.parent)
            free = around.f_bavail * around.f_frsize
            beside = self._file.with_name(f"{self._file.name}-wal")
            log = beside.stat().st_size if beside.exists() else 0
            self.sun_day("")
        except OSError as error:
            known = isinstance(error, StoreError)
            problem = str(error) if known else f"data file {self._file}: {error.strerror}"
        return Card(size, free, problem, log)


class PageLetters:
    """The inbox, and what came of letters."""

    def __init__(self, folder: Path, archive: Reader, clock: Clock) -> None:
        self._folder = folder
        self._archive = archive
        self._clock = clock

    def hand_in(self, event: Event, name: str) -> None:
        """Put an event on disk for the daemon to take."""
        hand_in(self._folder, event, name, self._clock)

    def fate(self, name: str) -> str | None:
        """None while the letter waits, "" when it has happened, or why it was refused."""
        if (self._folder / f"{name}{SUFFIX}").exists():
            return None
        return refusal(self._folder, name) or ""

    def named(self, ending: str) -> str | None:
        """The name of a letter of the last day with this ending."""
        right = re.compile(rf"\d{{10}}\.\d{{6}}{re.escape(ending)}")
        for folder in (self._folder, self._folder / REFUSED):
            for path in folder.glob(f"*{ending}{SUFFIX}"):
                if right.fullmatch(path.stem):
                    return path.stem
        return self._archive.letter_since(self._clock.moment().at - REPLAYED, ending)

    def cooker_of(self, name: str) -> str | None:
        """The cooker that a letter is about, waiting or stored."""
        event = waiting(self._folder, name)  # first, for it leaves when it is stored
        return self._archive.cooker_of(name) if event is None else event.cooker


def house(settings: Settings, serving: Serving) -> House:
    """All that the page needs. Raises StoreError when there is no data file yet."""
    place, clock = settings.station.place, serving.clock
    archive = PageArchive(settings, clock)

    def now() -> datetime:
        return clock.moment().at

    return House(
        about=About(
            version=__version__,
            station=settings.station,
            units=settings.units,
            timezone=settings.timezone,
            foods=settings.foods,
            alarms=frozenset(settings.policies),
            boiling_c=boiling_point_c(place.elevation_m),
            declination_deg=declination(place, now()).degrees,
        ),
        access=Access(ip_address(serving.bind).is_loopback, _names(settings), serving.code),
        archive=archive,
        letters=PageLetters(settings.data / INBOX, archive, clock),
        planning=PlanProcess(serving.config, settings.data, now),
        rating=RatingProcess(serving.config, settings.data, now),
        clock=clock,
        life=serving.life,
        board=Board(serving.life),
        keys=keyring(settings),
        static=Path(web.__path__[0]) / "static",
    )


def keyring(settings: Settings) -> Keyring:
    """Passphrase and links of a station."""
    return Keyring(settings.data / KEYS)


def _names(settings: Settings) -> frozenset[str]:
    """The names of this computer, with what routers make of them at home."""
    own = socket.gethostname().lower().partition(".")[0]
    names = {own, f"{own}.local", f"{own}.lan", f"{own}.home.arpa", socket.gethostname().lower()}
    return frozenset(names | set(settings.page.names))
