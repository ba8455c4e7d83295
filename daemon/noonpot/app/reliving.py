"""A stored cook through the same watch as the daemon's, without forecasts: what was known when, and
what its safety log said of each load.
"""

import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from noonpot.core.cook import Cook, Event, EventKind, Load
from noonpot.core.cookreport import Look, SafetyTale
from noonpot.core.facts import Facts
from noonpot.core.moment import Moment, iso
from noonpot.core.readings import Reading, Role, Sample
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.memory import Memory
from noonpot.engine.watch import Watch, then
from noonpot.errors import CookError

log = logging.getLogger(__name__)

STEP_S = 10.0
"""All readings are taken in; the watch looks up so often, as often as it looks at its probes."""
SILENT_S = 60.0
LIVED = frozenset(EventKind) - {
    EventKind.ACKNOWLEDGE,  # answers to alarms, and what was said later, change nothing in the pot
    EventKind.SHELVE,
    EventKind.VERDICT,
    EventKind.UNDO,
}


@dataclass(slots=True)
class LoadLived:
    """One load as the watch saw it: until when, what its core was to come to [°C], and what the
    safety log said.
    """

    load: Load
    until: datetime | None = None
    target_c: float | None = None
    safety: SafetyTale | None = None


@dataclass(slots=True)
class Relived:
    """All that was known, moment by moment, and the loads."""

    looks: list[Look] = field(default_factory=list)
    loads: list[LoadLived] = field(default_factory=list)


class Reliving:
    """Lives through one cook."""

    def __init__(self, cook: Cook, house: Household, daylight: Daylight, past: Memory) -> None:
        """``past`` is all that was read and done in the cook, in time order."""
        station = house.station
        spec = next(spec for spec in station.cookers if spec.name == cook.cooker)
        roles = {probe.name: probe.role for probe in station.probes_of(cook.cooker)}
        self._known: Sample | Moment = Moment(cook.started_at, cook.started_at.timestamp())
        if past.samples:
            self._known = past.samples[0]
        self._watched = Role.CORE in roles.values()
        self._watch = Watch(spec, house, daylight, self._moment(cook.started_at))
        self._past = past
        self._lived = Relived()

    def live(self, until: datetime) -> Relived:
        """Live until then, and tell. What does not fit is left out, as the daemon refused it."""
        waiting = [event for event in self._past.events if event.kind in LIVED]
        for samples in _pieces(self._past.samples, [event.at for event in waiting]):
            while waiting and waiting[0].at <= samples[0].at:
                self._happen(waiting.pop(0))
            self._silence(samples[0])
            self._known = samples[-1]
            readings = [sample for sample in samples if isinstance(sample, Reading)]
            self._look(self._watch.step(self._moment(samples[-1].at), readings).facts)
        for event in waiting:
            self._happen(event)
        self._look(self._watch.facts(self._moment(until)))
        return self._lived

    def _moment(self, at: datetime) -> Moment:
        event = Event("", at, EventKind.NOTE)
        return then(event, self._known)

    def _silence(self, sample: Sample) -> None:
        """After a silence one looks up once more before the next reading, which may end a danger
        that nobody saw grow.
        """
        looks = self._lived.looks
        if looks and (sample.at - looks[-1].at).total_seconds() > SILENT_S:
            self._look(self._watch.facts(self._moment(sample.at)))

    def _happen(self, event: Event) -> None:
        now = self._moment(event.at)
        if event.kind in (EventKind.LOAD, EventKind.UNLOAD, EventKind.STOP):
            self._look(self._watch.facts(now))
        try:
            self._watch.take(event, now)
        except CookError as error:
            log.debug("%s left out: %s", iso(event.at), error)
            return
        if event.kind in (EventKind.LOAD, EventKind.UNLOAD, EventKind.STOP):
            self._end(event.at)
        cook = self._watch.cook
        if event.kind is EventKind.LOAD and cook is not None and cook.load is not None:
            facts = self._watch.facts(now)
            self._lived.loads.append(LoadLived(cook.load, None, facts.target_c))
            self._follow(facts)

    def _end(self, at: datetime) -> None:
        if self._lived.loads and self._lived.loads[-1].until is None:
            self._lived.loads[-1].until = at

    def _look(self, facts: Facts) -> None:
        looks = self._lived.looks
        if not looks or facts.at > looks[-1].at:
            looks.append(
                Look(
                    facts.at,
                    facts.ambient_c,
                    facts.irradiance_wm2,
                    facts.sun,
                    facts.sun_up,
                    facts.misaim_deg,
                )
            )
        self._follow(facts)

    def _follow(self, facts: Facts) -> None:
        """Remember what the safety log says of the load in the pot."""
        now = facts.safety
        if now is None or not self._lived.loads or self._lived.loads[-1].until is not None:
            return
        load, course = self._lived.loads[-1], now.course
        before = load.safety.last.course if load.safety else course
        tale = load.safety or SafetyTale(now, watched=self._watched)
        if course.cooked and tale.safe_at is None:
            tale = replace(tale, safe_at=facts.at, before=before, after=course)
        elif tale.after is not None:
            anew = course.killed >= 1.0 > before.killed
            tale = replace(
                tale,
                again_at=facts.at if anew else tale.again_at,
                after=max(tale.after, course, key=lambda known: known.danger_s),
            )
        load.safety = replace(tale, last=now)


def _pieces(samples: Sequence[Sample], breaks: Sequence[datetime]) -> Iterator[list[Sample]]:
    """The samples in pieces of ``STEP_S``, none of which reaches over a break."""
    left = list(breaks)
    piece: list[Sample] = []
    for sample in samples:
        passed = bool(left) and left[0] <= sample.at
        if piece and (passed or (sample.at - piece[0].at).total_seconds() >= STEP_S):
            yield piece
            piece = []
        while left and left[0] <= sample.at:
            left.pop(0)
        piece.append(sample)
    if piece:
        yield piece
