"""Stations that are played: what they say is made by the program's own payloads, and told through
its own connection with its own last will.
"""

import json
import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from noonpot.core.advice import Advice
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.alert import Priority
from noonpot.core.cook import Cook, Load
from noonpot.core.facts import Facts
from noonpot.core.forecast import CurvePoint, Forecast
from noonpot.core.moment import Moment
from noonpot.core.payloads import (
    Payload,
    alarm_payload,
    forecast_payload,
    health_payload,
    now_payload,
    status_payload,
    topic,
)
from noonpot.core.rules import RULES, STATION_RULES
from noonpot.core.station import CookerSpec
from noonpot.core.stationfacts import OWN
from noonpot.core.sun import SunSky

AT = datetime(2026, 6, 3, 11, 30, tzinfo=UTC)
FOODS = ("bread", "rice", "beans", "stew", "potatoes", "")
CURVE_POINTS = 40  # as long as a forecast of a morning is


def body(payload: Mapping[str, object]) -> bytes:
    """A message as the notifier writes it."""
    return json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def facts(
    cooker: str = "box", at: datetime = AT, food: str = "bread", pot_c: float | None = 124.3125
) -> Facts:
    """A cooker with food in it since two hours."""
    loaded = at - timedelta(hours=2)
    return Facts(
        cooker=CookerSpec(cooker),
        cook=Cook(cooker, loaded, food, id=3, load=Load(loaded, food, 0.6)),
        food=None,
        target_c=94.0,
        pot_c=pot_c,
        core_c=71.5,
        ambient_c=27.0,
        irradiance_wm2=803.2,
        faults=(),
        heard_at=at,
        silent_s=0.0,
        sun=SunSky(139.2, 58.4, 900.0, 800.0, 100.0),
        sun_up=True,
        misaim_deg=14.6,
    )


def idle(cooker: str = "box", at: datetime = AT) -> Facts:
    """A cooker in which nothing cooks."""
    return Facts(CookerSpec(cooker), None, None, None, 24.0, None, 22.0, None, (), at, 0.0)


def forecast(at: datetime = AT, p_done: float = 0.93) -> Forecast:
    """A forecast with a curve of usual length."""
    curve = tuple(
        CurvePoint(at + timedelta(minutes=10 * i), 71.0 + i / 3, 72.0 + i / 2, 73.0 + i / 2)
        for i in range(CURVE_POINTS)
    )
    early, middle, late = (at + timedelta(minutes=minutes) for minutes in (31, 52, 100))
    return Forecast(at, 94.0, p_done, early, middle, late, 0.81, 14.6, 540.0, curve=curve)


def alarm(
    cooker: str = "box",
    name: str = "done",
    state: AlarmState = AlarmState.UNACKNOWLEDGED,
    priority: Priority = Priority.HIGH,
    text: str = "box: bread is done. Take it out with gloves.",
    at: datetime = AT,
) -> Payload:
    """The state of an alarm of the garden."""
    now = Moment(at, 0.0)
    record = AlarmRecord(cooker, name, state, now, text=text, priority=priority)
    return alarm_payload("garden", record, now)


def status(online: bool = True, last_will: bool = False, at: datetime = AT) -> Payload:
    """Whether the garden can be heard."""
    now = Moment(at, 0.0)
    return status_payload(
        "garden", now, "9.9", "online" if online else "offline", last_will=last_will
    )


def garden(at: datetime = AT) -> dict[str, Payload]:
    """All topics of a station with one cooker that cooks."""
    now = Moment(at, 0.0)
    return {
        topic("garden", "status"): status(at=at - timedelta(hours=1)),
        topic("garden", "health"): health_payload("garden", now, 7, {"mqtt": ""}, {"pings": 7}),
        topic("garden", "box", "now"): now_payload("garden", facts(at=at), now, Advice("Wait.")),
        topic("garden", "box", "forecast"): forecast_payload("garden", "box", forecast(at)),
        topic("garden", "box", "alarm", "done"): alarm(at=at),
    }


@dataclass(eq=False)
class Played:
    """One station with some cookers, minute by minute; chance comes from its number."""

    number: int
    cookers: tuple[str, ...] = ("box", "dish")
    name: str = field(init=False)
    _chance: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self.name = f"garden-{self.number:05d}"
        self._chance = random.Random(self.number)

    def pot_c(self, cooker: str, minute: int) -> float:
        """A temperature by which one sees which minute was heard last."""
        return 90.0 + minute / 4 + self.cookers.index(cooker) * 20

    def first(self, now: Moment) -> Iterator[tuple[str, Payload]]:
        """What it says when it comes: every alarm, and all of the first minute."""
        for owner, rules in ((OWN, STATION_RULES), *((c, RULES) for c in self.cookers)):
            for name in rules:
                yield self.alarm(owner, name, AlarmState.NORMAL, now)
        for end, payload in self.minute(0, now):
            if "/alarm/" not in end:  # each topic once
                yield end, payload

    def minute(self, minute: int, now: Moment) -> Iterator[tuple[str, Payload]]:
        """What it says in each minute, and now and then an alarm."""
        lines = {"mqtt": "", "push": ""}
        yield "health", health_payload(self.name, now, minute + 1, lines, {"mqtt-sent": minute})
        for cooker in self.cookers:
            food = FOODS[(self.number + len(cooker)) % len(FOODS)]
            seen = facts(cooker, now.at, food, self.pot_c(cooker, minute))
            advice = Advice("Leave it closed. Done about 11:52; you will be told.")
            yield f"{cooker}/now", now_payload(self.name, seen, now, advice)
            p_done = 0.5 + 0.49 * math.sin(self.number + minute / 9)
            yield (
                f"{cooker}/forecast",
                forecast_payload(self.name, cooker, forecast(now.at, round(p_done, 3))),
            )
            if self._chance.random() < 0.05:
                raised = self._chance.choice(["turn", "soon", "done"])
                state = self._chance.choice([AlarmState.UNACKNOWLEDGED, AlarmState.NORMAL])
                yield self.alarm(cooker, raised, state, now)

    def alarm(self, cooker: str, name: str, state: AlarmState, now: Moment) -> tuple[str, Payload]:
        """Where one of its alarms stands."""
        record = AlarmRecord(cooker, name, state, now, text=f"{cooker}: {name}. Look at it.")
        return f"{cooker}/alarm/{name}", alarm_payload(self.name, record, now)
