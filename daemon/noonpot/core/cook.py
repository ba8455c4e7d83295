"""One cook as a value: what happened to a cooker from first sun to unloading."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum

from noonpot.core.moment import iso, utc
from noonpot.errors import CookError


class EventKind(StrEnum):
    """What a person does, or sees, at a cooker. ``start`` and ``stop`` bound a cook; ``verdict`` is
    how it tasted, ``undo`` takes back what was said a moment ago. ``calibrate`` is of the station:
    what a probe showed in its baths.
    """

    START = "start"
    AIM = "aim"
    LOAD = "load"
    UNLOAD = "unload"
    LID = "lid"
    NOTE = "note"
    SPOT = "spot"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    STOP = "stop"
    VERDICT = "verdict"
    UNDO = "undo"
    CALIBRATE = "calibrate"


# Who aims a cooker or fills it has begun to cook, said or not.
BEGINNINGS = (EventKind.START, EventKind.AIM, EventKind.LOAD)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at a cooker. ``detail`` holds its numbers and words as text."""

    cooker: str
    at: datetime
    kind: EventKind
    detail: Mapping[str, str] = field(default_factory=dict)

    def number(self, key: str) -> float | None:
        """The detail as a number, None when it is missing.

        Raises CookError when the detail is there but is no number, or none that is finite.
        """
        text = self.detail.get(key)
        if text is None:
            return None
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise CookError(f"{self.kind} of {self.cooker}: {key}={text} is not a number")
        return number

    def time(self, key: str) -> datetime | None:
        """The detail as a time in UTC, None when it is missing.

        Raises CookError when the detail is there but is no time with its zone.
        """
        text = self.detail.get(key)
        if text is None:
            return None
        try:
            return utc(text)
        except ValueError:
            raise CookError(
                f"{self.kind} of {self.cooker}: {key}={text} is not a time; write it in UTC, like "
                "2026-06-03T18:00:00Z"
            ) from None


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a cooker points: azimuth clockwise from true north, elevation up [degrees]."""

    azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True)
class Load:
    """What is in the pot, since when."""

    at: datetime
    food: str
    mass_kg: float | None = None
    start_c: float | None = None
    target_c: float | None = None


@dataclass(frozen=True, slots=True)
class Cook:
    """One cooking. A cook may see several loads; ``load`` is the one in the pot now. ``meal_at`` is
    when it shall be eaten, None for whenever it is done.
    """

    cooker: str
    started_at: datetime
    food: str = ""
    target_c: float | None = None
    id: int = 0
    aim: Aim | None = None
    load: Load | None = None
    stopped_at: datetime | None = None
    meal_at: datetime | None = None

    @property
    def running(self) -> bool:
        """True until the cook is stopped."""
        return self.stopped_at is None

    def retold(self) -> "list[Event]":
        """The events that would make this cook what it is: where it points, what is in the pot."""
        events: list[Event] = []
        if self.aim is not None:
            where = {
                "azimuth": str(self.aim.azimuth_deg),
                "elevation": str(self.aim.elevation_deg),
            }
            events.append(Event(self.cooker, self.started_at, EventKind.AIM, where))
        if self.load is not None:
            load = self.load
            numbers = {
                "mass_kg": load.mass_kg,
                "start_c": load.start_c,
                "target_c": load.target_c,
            }
            known = {key: str(value) for key, value in numbers.items() if value is not None}
            if self.meal_at is not None:
                known["meal"] = iso(self.meal_at)
            events.append(Event(self.cooker, load.at, EventKind.LOAD, {"food": load.food, **known}))
        return events

    def completed(self, event: Event) -> Event:
        """A load with what the start of the cook told of its food, target and meal; ``self`` is the
        cook once the event has happened.
        """
        if event.kind is not EventKind.LOAD or self.load is None:
            return event
        detail = {**event.detail, "food": self.load.food}
        if self.load.target_c is not None:
            detail["target_c"] = str(self.load.target_c)
        if self.meal_at is not None:
            detail["meal"] = iso(self.meal_at)
        return replace(event, detail=detail)

    def after(self, event: Event) -> "Cook":
        """The cook once the event has happened.

        Raises CookError when the event does not fit, for instance an unloading of an empty pot.
        """
        match event.kind:
            case EventKind.AIM:
                azimuth, elevation = event.number("azimuth"), event.number("elevation")
                if azimuth is None or elevation is None:
                    raise CookError(
                        f"aim of {event.cooker}: needs azimuth=… and elevation=… in degrees; "
                        "'noonpot aim' prints both"
                    )
                return replace(self, aim=Aim(azimuth, elevation))
            case EventKind.LOAD:
                load = Load(
                    at=event.at,
                    food=event.detail.get("food") or self.food,
                    mass_kg=event.number("mass_kg"),
                    start_c=event.number("start_c"),
                    target_c=event.number("target_c") or self.target_c,
                )
                meal_at = event.time("meal") or self.meal_at
                if meal_at is not None and meal_at <= event.at:
                    meal_at = None  # it was that of an earlier load
                return replace(self, load=load, food=load.food, meal_at=meal_at)
            case EventKind.UNLOAD:
                if self.load is None:
                    raise CookError(f"unload of {event.cooker}: nothing is in the pot")
                return replace(self, load=None)
            case EventKind.STOP:
                return replace(self, stopped_at=event.at, load=None)
            case _:
                return self


def begin(event: Event) -> Cook:
    """The cook that a start event begins."""
    return Cook(
        cooker=event.cooker,
        started_at=event.at,
        food=event.detail.get("food", ""),
        target_c=event.number("target_c"),
        meal_at=event.time("meal"),
    )


def retold(cook: Cook, events: Sequence[Event]) -> list[Event]:
    """What happened in a cook, loads completed; where that was not kept, the least that would have
    made the cook what it is.
    """
    if not events:
        return cook.retold()
    told, state = [], Cook(cook.cooker, cook.started_at)
    for event in events:
        state = begin(event) if event.kind is EventKind.START else state.after(event)
        told.append(state.completed(event))
    return told


def told_anew(cook: Cook, events: Iterable[Event]) -> Cook:
    """The cook as these events alone make it, after one of them was taken back; a cook of which
    nothing is left ends when it began.

    Raises CookError when one of them does not fit any more, an unloading of what was never put in.
    """
    state: Cook | None = None
    for event in events:
        if state is None and event.kind in BEGINNINGS:
            state = begin(event)
        if state is not None:
            state = state.after(event)
    if state is None:
        return replace(cook, food="", aim=None, load=None, stopped_at=cook.started_at)
    return replace(state, id=cook.id, started_at=cook.started_at)
