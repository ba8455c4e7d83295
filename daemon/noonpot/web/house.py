"""What the page needs of the house around it; whoever serves it brings these."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from noonpot.core.calibration import Calibration
from noonpot.core.cook import Cook, Event
from noonpot.core.curve import Curve
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.recording import Recording
from noonpot.core.station import Station
from noonpot.ports import Clock
from noonpot.web.board import Board
from noonpot.web.keyring import Keyring
from noonpot.web.limits import Limits
from noonpot.web.refusals import Refusals


@dataclass(frozen=True, slots=True)
class About:
    """What does not change while the page is served. ``units`` is "C" or "F"; ``boiling_c`` where
    water boils here [°C]; ``declination_deg`` how far a compass points east of north [degrees].
    """

    version: str
    station: Station
    units: str
    timezone: ZoneInfo
    foods: Mapping[str, Food]
    alarms: Collection[str]
    boiling_c: float
    declination_deg: float


@dataclass(frozen=True, slots=True)
class Access:
    """Who gets in. ``local``: only this computer can reach the page. ``names`` are the host names
    by which it may be called. ``code`` lets a person choose the passphrase when there is none yet.
    """

    local: bool
    names: frozenset[str] = frozenset()
    code: str | None = None


@dataclass(frozen=True, slots=True)
class Card:
    """The data file: its size, what is free around it, and what waits beside it to be merged
    [bytes]; and why it cannot be read.
    """

    size: int | None
    free: int | None
    problem: str | None
    log: int | None = None


class Archive(Protocol):
    """What was measured and said. Every method may block, and raises StoreError."""

    def cooks(self) -> Sequence[Cook]:
        """All cooks, the oldest first."""

    def events_of(self, cooker: str, since: datetime, until: datetime) -> Sequence[Event]:
        """The events of a cooker, in time order."""

    def forecasts_of(self, cook: int) -> Sequence[Forecast]:
        """The headlines of the forecasts that were given in a cook, the oldest first."""

    def verdicts_of(self, cooker: str) -> Sequence[Event]:
        """All that was said of how the cooks of a cooker tasted, in time order."""

    def curve(self, cooker: str, since: datetime, until: datetime, points: int) -> Curve:
        """The lines of a cooker between two times, in about so many points."""

    def peak_core_c(self, cooker: str, since: datetime, until: datetime) -> float | None:
        """The highest that the core of a cooker came to [°C]."""

    def core_reached(
        self, cooker: str, temp_c: float, since: datetime, until: datetime
    ) -> datetime | None:
        """When the core of a cooker first came to a temperature."""

    def first_told(
        self, cooker: str, alarm: str, since: datetime, until: datetime
    ) -> datetime | None:
        """When an alarm of a cooker was first to be told between two times."""

    def core_below(
        self, cooker: str, temp_c: float, since: datetime, until: datetime
    ) -> datetime | None:
        """When the core of a cooker was first below a temperature."""

    def last_values(self, since: datetime, until: datetime) -> Mapping[str, tuple[float, datetime]]:
        """The last reading of each probe [°C; W/m²], and when it was."""

    def calibrations(self) -> Mapping[str, Calibration]:
        """The last calibration of each probe that ever had one."""

    def recording(self, cook: int) -> Recording:
        """A cook as a recording. Raises CookError when there is no such cook."""

    def report(self, cook: int) -> str:
        """The report of a cook as a page of its own; may take seconds. Raises CookError when there
        is no such cook.
        """

    def card(self) -> Card:
        """How the data file fares; never raises."""


class Letters(Protocol):
    """The way to the daemon: events are handed in as letters. Every method may block, and raises
    StoreError.
    """

    def hand_in(self, event: Event, name: str) -> None:
        """Put an event on disk for the daemon to take."""

    def fate(self, name: str) -> str | None:
        """What came of a letter: None while it waits, "" when it happened, or why it did not."""

    def named(self, ending: str) -> str | None:
        """The name of a letter of late that has this ending, waiting, refused or done."""

    def cooker_of(self, name: str) -> str | None:
        """The cooker that a letter is about, waiting or done; None for one that there is not."""


class Planning(Protocol):
    """Plans, made elsewhere because they take their time."""

    def plan(self, question: Mapping[str, object]) -> Sequence[Mapping[str, object]]:
        """A plan for each cooker asked for; may take half a minute.

        Raises RequestError for what cannot be planned, and when it takes too long.
        """


class Rating(Protocol):
    """Cookers rated elsewhere, because that takes its time. Every method may take a minute, and
    raises RequestError when there is no answer.
    """

    def rating(self, cooker: str) -> Mapping[str, object]:
        """What its cooks and the published tests say of a cooker."""

    def foods(self, cooker: str, sky: str) -> Mapping[str, object]:
        """All foods in all months under one sky."""


@dataclass(frozen=True, slots=True)
class House:
    """All of it. ``clock`` is the station's, ``life`` the one of those who look at the page: in a
    demonstration the first runs faster. ``static`` is the folder of the page's own files.
    """

    about: About
    access: Access
    archive: Archive
    letters: Letters
    planning: Planning
    rating: Rating
    clock: Clock
    life: Clock
    board: Board
    keys: Keyring
    static: Path
    limits: Limits = field(default_factory=Limits)
    refusals: Refusals = field(default_factory=Refusals)
