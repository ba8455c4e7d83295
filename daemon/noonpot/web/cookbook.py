"""Cooks as the page tells them. What takes long to find out of a finished one is remembered."""

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.curve import Curve
from noonpot.core.foods import asked_target, target_at
from noonpot.core.forecast import Forecast
from noonpot.core.moment import iso
from noonpot.core.policy import HOT_PROBE_S
from noonpot.core.readings import Role
from noonpot.web.house import About, Archive

Told = dict[str, object]

SMALL_POINTS = 56
MOST_REMEMBERED = 400
VERDICT = ("rating", "crumb", "browning", "text")


@dataclass(frozen=True, slots=True)
class _Found:
    """What the readings of a cook tell."""

    reached: datetime | None
    done: datetime | None
    peak_core_c: float | None
    small: Curve


class CookBook:
    """Tells of cooks. Every method may block, and raises StoreError."""

    def __init__(self, about: About, archive: Archive) -> None:
        self._about = about
        self._archive = archive
        self._found: OrderedDict[tuple[object, ...], _Found] = OrderedDict()

    def cook(self, number: int) -> Cook | None:
        """The cook of this id."""
        return next((cook for cook in self._archive.cooks() if cook.id == number), None)

    def page(
        self, cooker: str | None, before: int | None, limit: int, now: datetime
    ) -> tuple[list[Told], bool]:
        """Some cooks, the newest first, and whether there are more."""
        cooks = [
            cook
            for cook in reversed(self._archive.cooks())
            if cooker in (None, cook.cooker) and (before is None or cook.id < before)
        ]
        return [self.told(cook, now) for cook in cooks[:limit]], len(cooks) > limit

    def told(self, cook: Cook, now: datetime) -> Told:
        """One cook without its story."""
        return self._told(cook, self._events(cook, now), now)

    def story(self, cook: Cook, now: datetime) -> Told:
        """One cook with all that happened, and the forecasts as they were given."""
        events = self._events(cook, now)
        return {
            **self._told(cook, events, now),
            "events": [
                {"time": iso(e.at), "kind": str(e.kind), "detail": dict(e.detail)} for e in events
            ],
            "forecasts": [_forecast(given) for given in self._archive.forecasts_of(cook.id)],
        }

    def _events(self, cook: Cook, now: datetime) -> Sequence[Event]:
        return self._archive.events_of(cook.cooker, cook.started_at, cook.stopped_at or now)

    def _told(self, cook: Cook, events: Sequence[Event], now: datetime) -> Told:
        loads = [event for event in events if event.kind is EventKind.LOAD]
        load = loads[-1] if loads else None
        food = (load and load.detail.get("food")) or cook.food
        target_c = self._target_c(food, (load and _number(load, "target_c")) or cook.target_c)
        loaded = load.at if load else None
        found = self._find(cook, loaded, target_c, now)
        return {
            "id": cook.id,
            "cooker": cook.cooker,
            "food": food or None,
            "mass_kg": _number(load, "mass_kg") if load else None,
            "target_c": target_c,
            "started": iso(cook.started_at),
            "loaded": _time(loaded),
            "reached": _time(found.reached),
            "done": _time(found.done),
            "stopped": _time(cook.stopped_at),
            "peak_core_c": found.peak_core_c,
            "verdict": self._verdict(cook),
            "small": {
                "time": found.small.times_s,
                "pot_c": found.small.values[Role.POT],
                "core_c": found.small.values[Role.CORE],
            },
        }

    def _find(
        self, cook: Cook, loaded: datetime | None, target_c: float | None, now: datetime
    ) -> _Found:
        key = (cook.id, cook.stopped_at, loaded, target_c)
        known = self._found.get(key)
        if known is not None:
            return known
        until, archive = cook.stopped_at or now, self._archive
        reached = done = peak_c = None
        if loaded is not None:
            since = self._in_food(cook, loaded, target_c, until)
            peak_c = archive.peak_core_c(cook.cooker, since, until)
            if target_c is not None:
                reached = archive.core_reached(cook.cooker, target_c, since, until)
            done = archive.first_told(cook.cooker, "done", loaded, until)
        small = archive.curve(cook.cooker, cook.started_at, until, SMALL_POINTS)
        found = _Found(reached, done, peak_c, small)
        if not cook.running:
            self._found[key] = found
            if len(self._found) > MOST_REMEMBERED:
                self._found.popitem(last=False)
        return found

    def _in_food(
        self, cook: Cook, loaded: datetime, target_c: float | None, until: datetime
    ) -> datetime:
        """From when on the core counts: its probe may still show the heat of the pot."""
        cooled = loaded + timedelta(seconds=HOT_PROBE_S)
        if target_c is None:
            return cooled
        return self._archive.core_below(cook.cooker, target_c, loaded, until) or cooled

    def _target_c(self, food: str, asked_c: float | None) -> float | None:
        known, boiling_c = self._about.foods.get(food), self._about.boiling_c
        if asked_c is not None:
            return round(asked_target(known, asked_c, boiling_c).temp_c, 2)
        return None if known is None else round(target_at(known, boiling_c).temp_c, 2)

    def _verdict(self, cook: Cook) -> Mapping[str, object] | None:
        about = [
            event
            for event in self._archive.verdicts_of(cook.cooker)
            if event.detail.get("cook") == str(cook.id)
        ]
        if not about:
            return None
        detail = about[-1].detail
        told: Told = {key: detail.get(key) for key in VERDICT}
        rating = _number(about[-1], "rating")
        return {
            **told,
            "rating": None if rating is None else int(rating),
            "time": iso(about[-1].at),
        }


def _forecast(given: Forecast) -> Told:
    return {
        "time": iso(given.at),
        "target_c": round(given.target_c, 2),
        "p_done": round(given.p_done, 3),
        "done_p10": _time(given.done_p10),
        "done_p50": _time(given.done_p50),
        "done_p90": _time(given.done_p90),
    }


def _number(event: Event, key: str) -> float | None:
    """A number of an old event; one that cannot be read is not known."""
    try:
        value = float(event.detail[key])
    except (KeyError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _time(at: datetime | None) -> str | None:
    return None if at is None else iso(at)
