"""A cooker whose probes follow courses, and what its probes are taken for."""

import math
import random
from collections.abc import Callable, Mapping

from noonpot.core.cook import EventKind
from noonpot.core.readings import Reading, Role
from noonpot.core.sanity import Sanity
from noonpot.core.sanity_signs import Food, SignKind
from simday import at

BOILING_C = 95.0
START = at("09:00")
STEP_S, LOOK_S = 10.0, 60.0
LOAD_S = 1800.0
FOOD = Food(LOAD_S, mass_kg=0.8, start_c=20.0)
Course = Callable[[float], float]


def pot(t: float) -> float:
    """Heats to 110 °C with a time constant of half an hour; food takes a third at once."""
    hot = 25 + 85 * (1 - math.exp(-t / 1800))
    return hot if t < LOAD_S else hot - 20 * math.exp(-(t - LOAD_S) / 2400)


def core(t: float) -> float:
    """Bread that follows its pot within an hour and a half."""
    return 25.0 if t < LOAD_S else 90 - 70 * math.exp(-max(0.0, t - LOAD_S - 600) / 4000)


def air(t: float) -> float:
    return 25 + 0.3 * math.sin(t / 1800)


CLEAN: dict[str, Course] = {"pot": pot, "core": core, "shade": air}
ROLES = {"pot": Role.POT, "core": Role.CORE, "shade": Role.AMBIENT, "sky": Role.IRRADIANCE}


class Life:
    """A cooker whose probes follow courses; remembers when which sign was first seen."""

    def __init__(self, *, noise_c: float = 0.05, seed: int = 1) -> None:
        self.sanity = Sanity(ROLES, BOILING_C)
        self.now_s = 0.0
        self.first: dict[tuple[SignKind, str], float] = {}
        self.noise_c, self._chance = noise_c, random.Random(seed)
        self.loaded = False

    def live(
        self,
        until_s: float,
        courses: Mapping[str, Course],
        *,
        sunny: bool = True,
        dark: bool = False,
        board: Course | None = None,
    ) -> set[SignKind]:
        """Let the probes be read until then; returns the kinds of the signs that stand."""
        while self.now_s < until_s:
            self.now_s += STEP_S
            if self.now_s >= LOAD_S and not self.loaded:
                self.loaded = True
                self.tell(EventKind.LOAD, FOOD)
            for probe, course in courses.items():
                value = course(self.now_s) + self._chance.gauss(0, self.noise_c)
                board_c = board(self.now_s) if board else None
                value = round(value * 16) / 16
                reading = Reading(probe, START, self.now_s, value, board_c=board_c)
                self.sanity.hear(reading)
            if self.now_s % LOOK_S == 0 or self.now_s >= until_s:
                clear_wm2 = 0.0 if dark else 800.0
                self.sanity.look(self.now_s, sunny=sunny, dark=dark, clear_wm2=clear_wm2)
            for sign in self.sanity.signs:
                self.first.setdefault((sign.kind, sign.probe), self.now_s)
        return {sign.kind for sign in self.sanity.signs}

    def tell(self, kind: EventKind, food: Food | None = FOOD) -> None:
        self.sanity.happen(kind, self.now_s, food)


def towards(goal: Course, since_s: float, before: Course = core, tau_s: float = 40.0) -> Course:
    """A steel sleeve that moved at that time to where ``goal`` is."""

    def course(t: float) -> float:
        if t < since_s:
            return before(t)
        return goal(t) + (before(since_s) - goal(t)) * math.exp(-(t - since_s) / tau_s)

    return course


def dip(course: Course, since_s: float, long_s: float, depth: float, tau_s: float) -> Course:
    """The share ``depth`` of the excess over the air is lost within ``tau_s``, and comes back."""

    def dipped(t: float) -> float:
        lost = 1 - math.exp(-max(0.0, min(t - since_s, long_s)) / tau_s)
        back = math.exp(-max(0.0, t - since_s - long_s) / 120.0)
        return course(t) - depth * lost * back * (course(t) - 25.0)

    return dipped


def board(t: float) -> float:
    return 27 + 2 * math.sin(t / 3000)


def raw(t: float) -> float:
    """Cold food in a pot that was hot: it has hardly begun to warm."""
    return 25.0 if t < LOAD_S else 12.0
