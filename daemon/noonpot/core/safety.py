"""What a load goes through, for the health of those who eat it: pure steps of one course.

Sources: FDA Food Code 3-501.16 (danger zone 5 to 57 °C), 3-501.19 (so long in it, then discard),
3-501.14 (cooling); USDA FSIS-GD-2021-14 (the clock starts anew only once the heat has killed).
"""

from dataclasses import dataclass, replace
from datetime import datetime

from noonpot.core.lethality import Lethality, seconds_between
from noonpot.core.rescue import DANGER_C

COLD_C = 5.0
HOT_C = DANGER_C
ADVICE_C = 60.0
"""What home cooks are told to keep hot food above: USDA, 140 °F."""
STAGES = ((21.0, 7200.0), (COLD_C, 21_600.0))
"""Cooling [°C, s]: from 57 °C to 21 °C in 2 h, and to 5 °C in 6 h in all."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What a load needs to be safe, and the time in the danger zone that is too long [s].
    ``spoils`` is False for what does not go bad lukewarm.
    """

    lethality: Lethality
    limit_s: float
    spoils: bool = True


@dataclass(frozen=True, slots=True)
class Course:
    """What a load has been through.

    ``danger_s`` [s] is the time in the danger zone since loading, or since it was cooked;
    ``unknown_s`` [s] of it nobody saw, and that counts as danger, too. ``killed`` is the share of
    the lethality that it needs, 1 = all; ``cooked`` says whether that was ever reached,
    ``spoiled`` whether it stood too long in the danger zone.

    ``cooling_s`` [s] is how long cooked food has been below 57 °C, None while it is hot; ``stage``
    counts the stages of cooling behind it, ``late`` is the one [°C, s] that it failed, None while
    it failed none.
    """

    danger_s: float = 0.0
    unknown_s: float = 0.0
    killed: float = 0.0
    cooked: bool = False
    spoiled: bool = False
    cooling_s: float | None = None
    stage: int = 0
    late: tuple[float, float] | None = None

    @property
    def safe(self) -> bool:
        """Whether the heat has killed what it must, and nothing was left to grow for too long."""
        return self.killed >= 1.0 and not self.spoiled

    def limit_s(self, terms: Terms) -> float:
        """Food that cools as it should has the time that cooling takes [s]."""
        return max(terms.limit_s, STAGES[-1][1]) if self.stage else terms.limit_s


@dataclass(frozen=True, slots=True)
class Safety:
    """How a load that can make people ill stands now.

    ``core_c`` is its coldest place [°C], None while a probe that was in it is not heard; ``probes``
    are those that were. ``limit_s`` [s] is the time in the danger zone that is too long, and
    ``spoils_at`` when that is over, if the food stays there. ``blind_s`` [s] is how long nobody has
    seen its temperature, or had not until just now, None where that was not too long; ``off`` says
    that the monitor was off then, ``restarted`` that it was just now, be it for moments.
    """

    course: Course
    core_c: float | None
    probes: frozenset[str]
    limit_s: float
    spoils_at: datetime
    blind_s: float | None = None
    off: bool = False
    restarted: bool = False


def unseen(course: Course, terms: Terms, seconds: float) -> Course:
    """Nobody saw what happened; the worst is assumed."""
    course = suffered(course, terms, seconds)
    if not terms.spoils:
        return course
    course = replace(course, unknown_s=course.unknown_s + seconds)
    return cooled(course, seconds) if course.cooked else course


def seen(course: Course, terms: Terms, seconds: float, from_c: float, to_c: float) -> Course:
    """From one trustworthy reading of the core to the next, in a straight line."""
    course = suffered(course, terms, seconds_between(seconds, from_c, to_c, COLD_C, HOT_C))
    course = replace(course, killed=course.killed + terms.lethality.dose(seconds, from_c, to_c))
    return cooled(course, seconds) if course.cooked and to_c < HOT_C else course


def suffered(course: Course, terms: Terms, seconds: float) -> Course:
    """Time in the danger zone. What may have grown in cooked food since must be killed anew."""
    if not terms.spoils or seconds <= 0.0:
        return course
    danger_s = course.danger_s + seconds
    return replace(
        course,
        danger_s=danger_s,
        spoiled=course.spoiled or danger_s >= course.limit_s(terms),
        killed=0.0 if course.cooked and course.killed >= 1.0 else course.killed,
    )


def cooled(course: Course, seconds: float) -> Course:
    """Cooked food below 57 °C, or unseen, for so much longer."""
    cooling_s = (course.cooling_s or 0.0) + seconds
    failed = next((stage for stage in STAGES[course.stage :] if cooling_s > stage[1]), None)
    return replace(course, cooling_s=cooling_s, late=course.late or failed)


def found(course: Course, terms: Terms, core_c: float) -> Course:
    """The core is seen at this temperature. Heat does not mend what was spoiled."""
    if not terms.spoils:
        return course
    if core_c >= HOT_C:
        course = replace(course, cooling_s=None, stage=0)
        if course.safe:
            return replace(course, cooked=True, late=None, danger_s=0.0, unknown_s=0.0)
    elif course.cooling_s is not None:
        done = sum(core_c <= below_c for below_c, _ in STAGES)
        return replace(course, stage=max(course.stage, done))
    return course
