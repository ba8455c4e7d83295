"""All that a station knows of itself at one moment, as the rules of its own alarms see it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from noonpot.core.alarms import AlarmRecord
from noonpot.core.moment import Moment
from noonpot.core.policy import AlarmPolicy, StationLimits
from noonpot.core.wording import Wording

OWN = "station"
"""Stands in the place of the cooker where an alarm is about the station itself."""


class StoreTrouble(StrEnum):
    """Why readings cannot be written down."""

    FULL = "full"
    UNWRITABLE = "unwritable"
    DAMAGED = "damaged"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Silent:
    """A channel by which nobody can be reached: ``for_s`` how long already [s], ``reason`` in
    words, ``waiting`` how many alerts it has not settled.
    """

    channel: str
    for_s: float
    reason: str
    waiting: int


@dataclass(frozen=True, slots=True)
class Absence:
    """The daemon did not run for ``gap_s`` [s] before its last start, ``ago_s`` ago [s]; the gap is
    None when no clock can tell it: the machine was off, and its clock not set before or after.
    ``restarts`` counts the starts of the last hour that followed upon no proper end.
    """

    gap_s: float | None
    ago_s: float
    restarts: int


@dataclass(frozen=True, slots=True)
class Backup:
    """How the daily backup fares: when the last good one was made, None for never; why the next one
    failed, "" while none did, and whether that is because the data file itself is ``damaged``.
    ``compared`` is when the last one was opened and held against the data file row by row, None
    when that was before this start.
    """

    at: datetime | None
    problem: str = ""
    damaged: bool = False
    compared: datetime | None = None


@dataclass(frozen=True, slots=True)
class Readings:
    """How far back readings are there as they were read: since ``oldest``, those of cooks among
    them, None without any. Those outside of cooks are ten-minute values before ``rolled_up``, None
    while there are none such. ``waits_for`` names a server that must be sent old ones first.
    """

    oldest: datetime | None
    rolled_up: datetime | None = None
    waits_for: str | None = None


@dataclass(frozen=True, slots=True)
class Mended:
    """The data file was found damaged, and is kept under the name ``kept``. In its place came a
    backup of the time ``restored``, or an empty file for None. Or it was written by a ``newer``
    Noonpot and is left as it is; ``kept`` is then the file that readings go to. Or the card is
    ``unwritable``, and all is in memory.
    """

    found: Moment
    kept: str
    restored: datetime | None
    newer: bool = False
    unwritable: bool = False

    @property
    def lasting(self) -> bool:
        """Whether it stays so until the daemon is started again."""
        return self.newer or self.unwritable


@dataclass(frozen=True, slots=True)
class Survey:
    """What was last seen of the machine; None is not known.

    ``free_mb`` is left on the card, for ``days_left`` at the pace of late; ``wal_mb`` is what waits
    beside the data file to be merged into it; ``slowest_write_s`` the longest write since the
    survey before [s]. ``heat_c`` is the processor's temperature [°C], ``under_voltage`` whether its
    supply is too weak. ``silent`` are the channels that reach nobody, of ``channels`` in all.
    ``backup`` is None when none is wanted.
    """

    mono_s: float
    free_mb: float | None = None
    days_left: float | None = None
    wal_mb: float | None = None
    slowest_write_s: float | None = None
    heat_c: float | None = None
    under_voltage: bool | None = None
    silent: tuple[Silent, ...] = ()
    channels: tuple[str, ...] = ()
    absence: Absence | None = None
    backup: Backup | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A jump of a clock that had been set already, by ``shift_s`` [s], ``ago_s`` ago [s]."""

    shift_s: float
    ago_s: float


@dataclass(frozen=True, slots=True)
class StationFacts:
    """All that a station knows of itself. ``survey`` is None while there is none, or it is too old
    to tell of now; ``cooking`` whether any cook runs; ``mended`` what became of a data file that
    was found damaged of late.
    """

    station: str
    at: datetime
    clock_trusted: bool
    step: Step | None = None
    trouble: StoreTrouble | None = None
    survey: Survey | None = None
    cooking: bool = False
    mended: Mended | None = None


@dataclass(frozen=True, slots=True)
class StationCase:
    """One look at a station: the facts, how its alarms stand, and the household's numbers and
    words.
    """

    facts: StationFacts
    records: Mapping[str, AlarmRecord]
    policies: Mapping[str, AlarmPolicy]
    limits: StationLimits
    wording: Wording

    def deadband(self, alarm: str) -> float:
        """What a condition must fall short of its limit before it counts as gone."""
        return self.policies[alarm].deadband if self.records[alarm].active else 0.0

    def clock(self, ago_s: float) -> str:
        """The time of day so many seconds ago, for people."""
        return self.wording.clock(self.facts.at - timedelta(seconds=ago_s))
