"""Follows one load from loading on, by the readings of its core probes."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from noonpot.core.cook import Cook, Event, EventKind, Load, begin, retold
from noonpot.core.foods import Food
from noonpot.core.lethality import POULTRY
from noonpot.core.moment import Moment
from noonpot.core.policy import HOT_PROBE_S
from noonpot.core.readings import Reading
from noonpot.core.safety import (
    COLD_C,
    HOT_C,
    Course,
    Safety,
    Terms,
    cooled,
    found,
    seen,
    suffered,
    unseen,
)
from noonpot.core.sanity_signs import Sign, SignKind

BLIND_S = 600.0
"""So long may the temperature of hazardous food be unknown before someone must decide (our choice,
as long as an alarm that nobody answers waits before it is told again).
"""
SHOWN_S = 120.0
"""How long what is over counts as present, so that it is told (our choice)."""
KEEP_S = 60.0
KEPT = 1440
COLDER_K = 5.0
"""A place found so much colder than the probes show was not cooked by what they saw [K]: more than
a probe and a good thermometer differ by (our choice).
"""


class SafetyLog:
    """The course of one load on the monotonic clock.

    Time without a reading, be it a lost probe or a monitor that was off, adds to the danger and
    never to the lethality. Of several probes the coldest counts, and one that falls silent makes
    the temperature unknown.
    """

    def __init__(
        self, loaded_at: datetime, terms: Terms, *, gap_s: float, watched: bool = True
    ) -> None:
        """``gap_s`` [s] without a reading is a gap; ``watched`` is False for a cooker that has no
        core probe at all.
        """
        self._loaded_at, self._terms = loaded_at, terms
        self._gap_s, self._watched = gap_s, watched and terms.spoils
        self._begun_s: float | None = None
        self._last_s = 0.0
        self._course = self._first = Course()
        self._core_c: float | None = None
        self._latest: dict[str, tuple[float, float]] = {}
        self._kept: deque[tuple[float, Course]] = deque(maxlen=KEPT)
        self._settled = False
        self._resumed = self._off = False
        self._resumed_s = self._blind_until_s = float("-inf")
        self._blind_s = 0.0

    def begin(self, now: Moment) -> None:
        """The load is in the pot, perhaps since a while ago."""
        if self._begun_s is None:
            since_s = max((now.at - self._loaded_at).total_seconds(), 0.0)
            self._begun_s = self._last_s = now.mono_s - since_s

    def inherit(self, before: "SafetyLog", now: Moment) -> None:
        """Nobody said that the earlier load was taken out: this one has stood for as long. What the
        heat has killed in that one does not count.
        """
        was = before.at(now).course
        self._course = self._first = Course(
            danger_s=was.danger_s, unknown_s=was.unknown_s, spoiled=was.spoiled, late=was.late
        )

    def spot(self, now: Moment, core_c: float) -> None:
        """A person measured the core by hand [°C]. For a moment one knows where it stands; a look
        kills nothing, and time that nobody saw stays unseen.
        """
        self.begin(now)
        fresh = [c for at_s, c in self._latest.values() if now.mono_s - at_s <= self._gap_s]
        seen_c = min(fresh, default=core_c)
        self._pass(now.mono_s, min(core_c, seen_c))
        if core_c < seen_c - COLDER_K:
            self._course = replace(self._course, killed=0.0)

    def resumed(self) -> None:
        """The monitor was off just now; until the next reading nobody knows anything."""
        self._resumed = True

    def take(self, reading: Reading, signs: Iterable[Sign]) -> None:
        """A reading of one core probe; ``signs`` say which probes do not show what they should."""
        sign = next((sign for sign in signs if sign.probe == reading.probe), None)
        if sign is None:
            self.hear(reading.probe, Moment(reading.at, reading.mono_s), reading.value)
        elif sign.kind is SignKind.OUT:
            self.distrust(reading.probe, sign.since_s - sign.seconds)
        else:
            self.distrust(reading.probe, float("-inf"))

    def hear(self, probe: str, now: Moment, temp_c: float) -> None:
        """A trustworthy reading of one core probe [°C]. Earlier ones than the load are no news."""
        if self._begun_s is None:
            if now.at < self._loaded_at:
                return
            self.begin(now)
        self._latest[probe] = (now.mono_s, temp_c)
        if all(now.mono_s - at_s <= self._gap_s for at_s, _ in self._latest.values()):
            self._pass(now.mono_s, min(core_c for _, core_c in self._latest.values()))

    def distrust(self, probe: str, since_s: float) -> None:
        """A probe was not in the food since ``since_s`` [monotonic s]: what was made of its
        readings is taken back, and the time is unseen.
        """
        if self._begun_s is None or self._last_s <= since_s:
            return
        while self._kept and self._kept[-1][0] > since_s:
            self._kept.pop()
        self._last_s, self._course = self._kept[-1] if self._kept else (self._begun_s, self._first)
        self._core_c = None
        self._latest[probe] = (float("-inf"), 0.0)

    def at(self, now: Moment) -> Safety:
        """How the load stands now; time since the last reading is not forgotten."""
        self.begin(now)
        waited_s = max(now.mono_s - self._last_s, 0.0)
        core_c = None if waited_s > self._gap_s else self._core_c
        course = self._waited(waited_s, core_c)
        limit_s = course.limit_s(self._terms)
        blind_s = waited_s if core_c is None and waited_s > BLIND_S else None
        off = self._off if blind_s is None else self._resumed
        if blind_s is None and now.mono_s - self._blind_until_s <= SHOWN_S:
            blind_s = self._blind_s
        return Safety(
            course=course,
            core_c=core_c,
            probes=frozenset(self._latest),
            limit_s=limit_s,
            spoils_at=now.at + timedelta(seconds=max(limit_s - course.danger_s, 0.0)),
            blind_s=blind_s if self._watched else None,
            off=off,
            restarted=self._resumed or now.mono_s - self._resumed_s <= SHOWN_S,
        )

    def _waited(self, seconds: float, core_c: float | None) -> Course:
        """The course if the food has stayed as it was last seen; that kills nothing."""
        if core_c is None:
            return unseen(self._course, self._terms, seconds)
        course = self._course
        if COLD_C <= core_c < HOT_C:
            course = suffered(course, self._terms, seconds)
        return course if course.cooling_s is None else cooled(course, seconds)

    def _pass(self, now_s: float, core_c: float) -> None:
        """From the last reading to this one."""
        seconds = now_s - self._last_s
        if -self._gap_s <= seconds < 0.0:
            return  # stamped out of order
        is_believed = self._is_believed(now_s, core_c)
        if self._core_c is None or not 0.0 <= seconds <= self._gap_s:
            self._gap(max(seconds, 0.0), now_s)
        elif is_believed:
            self._course = seen(self._course, self._terms, seconds, self._core_c, core_c)
        else:
            self._course = suffered(self._course, self._terms, seconds)
        self._course = found(self._course, self._terms, core_c)
        self._last_s, self._core_c = now_s, core_c
        if not self._kept or now_s - self._kept[-1][0] >= KEEP_S:
            self._kept.append((now_s, self._course))

    def _gap(self, seconds: float, until_s: float) -> None:
        self._course = unseen(self._course, self._terms, seconds)
        if seconds > BLIND_S:
            self._blind_s, self._blind_until_s, self._off = seconds, until_s, self._resumed

    def _is_believed(self, now_s: float, core_c: float) -> bool:
        """A probe that comes hot out of the pot tells nothing of cold food for a while."""
        begun_s = now_s if self._begun_s is None else self._begun_s
        self._settled |= core_c < HOT_C or now_s - begun_s >= HOT_PROBE_S
        return self._settled


def safety_log(
    load: Load | None, food: Food | None, *, limit_s: float, gap_s: float, watched: bool
) -> SafetyLog | None:
    """The log of a load that can make people ill, None for other food and an empty pot. Unknown
    food is judged as the worst: as poultry.
    """
    if load is None or (food is not None and not food.hazardous):
        return None
    terms = Terms(POULTRY, limit_s)
    if food is not None:
        terms = Terms(food.lethality, limit_s, food.spoils)
    return SafetyLog(load.at, terms, gap_s=gap_s, watched=watched)


def scenes(cook: Cook, events: Sequence[Event]) -> list[tuple[Cook, Event]]:
    """What was done with the food of a cook, each with the cook once that had happened."""
    found, state = [], Cook(cook.cooker, cook.started_at)
    for event in retold(cook, events):
        state = begin(event) if event.kind is EventKind.START else state.after(event)
        if event.kind in (EventKind.LOAD, EventKind.UNLOAD, EventKind.SPOT):
            found.append((state, event))
    return found
