"""A person at four cookers: cooks, answers the phone as people do, and mends what is told."""

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from noonpot.core.alert import Alert
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.stationfacts import OWN
from noonpot.core.sun import SunSky

# What people cook, how much [kg], and how warm it is when it goes in [°C].
DISHES = {
    "bread": (0.6, 24.0),
    "cake": (0.5, 22.0),
    "chicken": (0.9, 8.0),
    "soup": (1.2, 20.0),
    "rice": (1.0, 25.0),
    "potatoes": (0.9, 18.0),
    "leftovers": (0.8, 8.0),
}
HOT_POT_FIRST = ("bread", "cake", "chicken")
HEEDED = 0.85
"""So often somebody acts on a message (our choice); on its repetition, if any, as often."""
MINUTES = (2.0, 12.0)
"""How long it takes to get there."""
MENDS = ("probe", "probe-out", "lid", "no-news")
GIVES_UP = ("danger-zone", "cooling", "hold")


@dataclass(frozen=True, slots=True)
class Act:
    """Something to be done at a cooker at a time [monotonic s]."""

    at_s: float
    cooker: str
    what: str
    about: str = ""


class Person:
    """Decides; ``acts`` are what is still to be done, ``dishes`` what is to be cooked where."""

    def __init__(self, chance: random.Random, menu: Sequence[str] = tuple(DISHES)) -> None:
        self.acts: list[Act] = []
        self.dishes: dict[str, str] = {}
        self._chance = chance
        self._menu = menu

    def plan(self, cooker: str, at_s: float) -> None:
        """Cook something there from then on."""
        dish = self._chance.choice(self._menu)
        self.dishes[cooker] = dish
        self._do(at_s, cooker, "start")
        if dish in HOT_POT_FIRST:
            self._do(at_s + 7200.0, cooker, "load")  # the phone stayed silent: at last put it in
        else:
            self._do(at_s + 60 * self._chance.uniform(5, 25), cooker, "load")
        if self._chance.random() < 0.5:  # the diligent turn without being told
            self._do(at_s + 60 * self._chance.uniform(45, 75), cooker, "turn")

    def hear(self, alert: Alert, now_s: float) -> None:
        """Hear the phone, and perhaps walk over some minutes later."""
        if self._chance.random() > HEEDED:
            return
        when_s = now_s + 60 * self._chance.uniform(*MINUTES)
        if alert.cooker == OWN:
            what = "mend" if alert.alarm in {"clock", "restart"} else "acknowledge"
        elif alert.alarm in MENDS:
            what = "mend"
        elif alert.alarm == "soon":  # some look into the pot, and tell nobody
            what = "peek" if self._chance.random() < 0.3 else ""
        else:
            what = {
                "preheated": "load",
                "turn": "aim",
                "done": "unload",
                "overdone": "unload",
                "boil-dry": "look",
                "rescue": "unload" if self._chance.random() < 0.3 else "acknowledge",
                "food-unknown": "acknowledge",
            }.get(alert.alarm, "unload" if alert.alarm in GIVES_UP else "")
        if what:
            self._do(when_s, alert.cooker, what, alert.alarm)

    def due(self, now_s: float) -> list[Act]:
        """What is to be done now."""
        due = sorted((a for a in self.acts if a.at_s <= now_s), key=lambda a: a.at_s)
        self.acts = [a for a in self.acts if a.at_s > now_s]
        return due

    def events(self, act: Act, cook: Cook | None, sky: SunSky, now: Moment) -> list[Event]:
        """What doing it means to the cooker, as far as it fits."""
        loaded = cook is not None and cook.load is not None
        make: Mapping[str, Callable[[], list[Event]]] = {
            "start": lambda: [
                Event(act.cooker, now.at, EventKind.START, {"food": self.dishes[act.cooker]}),
                aimed(act.cooker, sky, now),
            ],
            "load": lambda: [self._load(act.cooker, now)],
            "aim": lambda: [aimed(act.cooker, sky, now)],
            "unload": lambda: [Event(act.cooker, now.at, EventKind.UNLOAD)],
            "stop": lambda: [Event(act.cooker, now.at, EventKind.STOP)],
            "look": lambda: [Event(act.cooker, now.at, EventKind.LID, {"duration_s": "40"})],
            "acknowledge": lambda: [
                Event(act.cooker, now.at, EventKind.ACKNOWLEDGE, {"alarm": act.about})
            ],
        }
        fits = {
            "start": cook is None,
            "load": cook is not None and not loaded,
            "aim": cook is not None,
            "look": cook is not None,
            "unload": loaded,
            "stop": cook is not None,
            "acknowledge": True,
        }
        what = "aim" if act.what == "turn" else act.what
        if what not in make or not fits[what]:
            return []
        if what == "unload":
            self._do(now.mono_s + 60.0, act.cooker, "stop")
        if act.what == "turn":
            self._do(now.mono_s + 60 * self._chance.uniform(45, 75), act.cooker, "turn")
        return make[what]()

    def _load(self, cooker: str, now: Moment) -> Event:
        dish = self.dishes[cooker]
        mass_kg, start_c = DISHES[dish]
        mass_kg *= self._chance.uniform(0.8, 1.3)
        detail = {"food": dish, "mass_kg": f"{mass_kg:.2f}", "start_c": f"{start_c:.0f}"}
        return Event(cooker, now.at, EventKind.LOAD, detail)

    def _do(self, at_s: float, cooker: str, what: str, about: str = "") -> None:
        if not any((a.cooker, a.what) == (cooker, what) for a in self.acts) or what == "load":
            self.acts.append(Act(at_s, cooker, what, about))


def aimed(cooker: str, sky: SunSky, now: Moment, off_deg: float = 0.0) -> Event:
    """The cooker is turned to the sun, or so far below or beside it [degrees]."""
    azimuth_deg, elevation_deg = sky.azimuth_deg, max(0.0, sky.elevation_deg)
    if elevation_deg >= off_deg:
        elevation_deg -= off_deg
    else:
        azimuth_deg = (azimuth_deg + off_deg) % 360
    aim = {"azimuth": f"{azimuth_deg:.1f}", "elevation": f"{elevation_deg:.1f}"}
    return Event(cooker, now.at, EventKind.AIM, aim)
