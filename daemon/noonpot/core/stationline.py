"""One line for a station or for one of its cookers: how it stands, and whether that is of now.

What the broker has in store may be old. So each message carries when it was heard, unless it was in
store; and what is not of now is never told as if it were.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Generic, TypeVar

from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.sighting import Chance, Presence, Pulse, Stand, Standing
from noonpot.core.stationfacts import OWN

FRESH_S = 180.0  # three of the messages that come once a minute
AHEAD_S = 60.0  # clocks of two machines that were set differ by less

T = TypeVar("T", Presence, Pulse, Stand, Chance, Standing)


class State(StrEnum):
    """Whether a station can be heard. ``silent``: the broker hears it, but its cooker tells nothing
    new. ``unknown``: it never said.
    """

    ONLINE = "online"
    OFFLINE = "offline"
    SILENT = "silent"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Heard(Generic[T]):
    """What was said, and when it was heard; None when the broker had it in store."""

    said: T
    moment: Moment | None


@dataclass(slots=True)
class CookerSeen:
    """The last that was heard of one cooker; of its alarms those that wait or are known."""

    stand: Heard[Stand] | None = None
    chance: Heard[Chance] | None = None
    alarms: dict[str, Heard[Standing]] = field(default_factory=dict)


@dataclass(slots=True)
class StationSeen:
    """The last that was heard of one station; its own alarms are those of the cooker OWN."""

    presence: Heard[Presence] | None = None
    pulse: Heard[Pulse] | None = None
    cookers: dict[str, CookerSeen] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Waiting:
    """An alarm that a person must still answer."""

    alarm: str
    said: Standing


@dataclass(frozen=True, slots=True)
class Line:
    """How one cooker stands, or the station itself when ``cooker`` is "".

    ``since`` is when it came into its state, None when nobody knows; ``live`` tells whether the
    numbers are of now, ``as_of`` of when they are. ``alarms`` wait to be answered, the most urgent
    first; ``answered`` so many hold and are known to a person. ``problems`` are faults of probes,
    or channels that reach nobody. ``rank`` is the higher, the sooner somebody must look.
    """

    station: str
    cooker: str
    state: State
    since: datetime | None
    live: bool
    as_of: datetime | None
    stand: Stand | None
    chance: Chance | None
    alarms: tuple[Waiting, ...]
    answered: int
    problems: tuple[str, ...]
    rank: int

    @property
    def key(self) -> str:
        """Its name among all lines."""
        return f"{self.station}/{self.cooker or OWN}"


def lines(seen: Mapping[str, StationSeen], now: Moment, *, connected: bool) -> list[Line]:
    """All lines, the worst first. Without a connection to the broker nothing is of now."""
    found = [
        line
        for name, station in seen.items()
        for line in _of_station(name, station, now, connected=connected)
    ]
    return sorted(found, key=_order)


def age_s(heard: Heard[T], now: Moment) -> float | None:
    """How old it is at least [s]; None when nobody can tell: the broker had it in store, and the
    clock of the station is not set, or goes ahead of ours.
    """
    said, moment = heard.said, heard.moment
    ages = [] if moment is None else [now.mono_s - moment.mono_s]
    told_s = (now.at - said.at).total_seconds()
    if getattr(said, "trusted", True) and told_s >= -AHEAD_S:
        ages.append(max(0.0, told_s))
    return max(ages, default=None)


def _of_station(name: str, station: StationSeen, now: Moment, *, connected: bool) -> Iterator[Line]:
    cookers = {cooker: seen for cooker, seen in station.cookers.items() if cooker != OWN}
    for cooker, seen in cookers.items():
        fresh = _fresh(seen.stand, now)
        state = _state(station.presence, fresh=fresh)
        stand = seen.stand.said if seen.stand else None
        as_of = None if stand is None else stand.at
        live = connected and state is State.ONLINE
        alarms, answered = _alarms(seen)
        problems = stand.faults if stand else ()
        yield Line(
            station=name,
            cooker=cooker,
            state=state,
            since=_since(station, state, as_of),
            live=live,
            as_of=as_of,
            stand=stand,
            chance=_chance(seen, stand),
            alarms=alarms,
            answered=answered,
            problems=problems,
            rank=_rank(alarms, answered, problems, stand, dark=state is not State.ONLINE),
        )
    own = station.cookers.get(OWN)
    alarms, answered = _alarms(own) if own else ((), 0)
    pulse = station.pulse.said if station.pulse else None
    problems = pulse.problems if pulse else ()
    if not cookers or alarms or problems:
        state = _state(station.presence, fresh=_fresh(station.pulse, now))
        as_of = None if pulse is None else pulse.at
        yield Line(
            station=name,
            cooker="",
            state=state,
            since=_since(station, state, as_of),
            live=connected and state is State.ONLINE,
            as_of=as_of,
            stand=None,
            chance=None,
            alarms=alarms,
            answered=answered,
            problems=problems,
            rank=_rank(alarms, answered, problems, None, dark=state is not State.ONLINE),
        )


def _fresh(heard: Heard[T] | None, now: Moment) -> bool:
    age = None if heard is None else age_s(heard, now)
    return age is not None and age <= FRESH_S


def _state(presence: Heard[Presence] | None, *, fresh: bool) -> State:
    if presence is None:
        return State.UNKNOWN
    if not presence.said.online:
        return State.OFFLINE
    return State.ONLINE if fresh else State.SILENT


def _since(station: StationSeen, state: State, as_of: datetime | None) -> datetime | None:
    """A goodbye says when it was. A last will does not: that we heard ourselves, or else the last
    word of the station is the best there is.
    """
    presence = station.presence
    if presence is None or state is State.SILENT:
        return as_of
    if presence.said.online or not presence.said.last_will:
        return presence.said.at
    if presence.moment is not None:
        return presence.moment.at
    words = [seen.stand.said.at for seen in station.cookers.values() if seen.stand]
    words += [station.pulse.said.at] if station.pulse else []
    return max(words, default=None)


def _chance(seen: CookerSeen, stand: Stand | None) -> Chance | None:
    """The forecast, if it is about the load that is in the pot now, and as new as the rest."""
    chance = seen.chance.said if seen.chance else None
    if chance is None or stand is None or stand.loaded_at is None or stand.emptied:
        return None
    stale = stand.at - chance.at > timedelta(seconds=FRESH_S)
    return None if chance.at < stand.loaded_at or stale else chance


def _alarms(seen: CookerSeen) -> tuple[tuple[Waiting, ...], int]:
    waiting = [Waiting(name, heard.said) for name, heard in seen.alarms.items() if heard.said.waits]
    waiting.sort(key=lambda one: (-one.said.priority.rank, one.said.since, one.alarm))
    return tuple(waiting), len(seen.alarms) - len(waiting)


RANKS = {Priority.URGENT: 80, Priority.HIGH: 60, Priority.MEDIUM: 50, Priority.LOW: 30}
UNWATCHED, DARK, FAULTY, ANSWERED, COOKING = 70, 40, 25, 20, 10
"""Food that nobody watches comes right after what is urgent."""


def _rank(
    alarms: tuple[Waiting, ...],
    answered: int,
    problems: tuple[str, ...],
    stand: Stand | None,
    *,
    dark: bool,
) -> int:
    ranks = [RANKS[alarms[0].said.priority]] if alarms else []
    if dark:
        ranks.append(UNWATCHED if stand is not None and stand.loaded else DARK)
    ranks.append(FAULTY if problems else 0)
    ranks.append(ANSWERED if answered else 0)
    ranks.append(COOKING if stand is not None and stand.cooking else 0)
    return max(ranks)


def _order(line: Line) -> tuple[int, float, str, str]:
    """The worst first; of equals the least likely to get done, then by name."""
    likely = 1.0 if line.chance is None else line.chance.p_done
    return (-line.rank, likely, line.station, line.cooker)
