"""The station watched by itself: from a survey of the machine to its own alarms."""

from collections.abc import Iterable, Mapping

from noonpot.core.alarms import AlarmRecord
from noonpot.core.calibration import Calibration
from noonpot.core.calibrationletter import told
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.rules import STATION_RULES, evaluate_station
from noonpot.core.stationfacts import (
    OWN,
    Mended,
    StationCase,
    StationFacts,
    Step,
    StoreTrouble,
    Survey,
)
from noonpot.engine.alarmbook import AlarmBook, Changes
from noonpot.engine.clockguard import ClockStep
from noonpot.engine.household import Household
from noonpot.errors import (
    CookError,
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreUnwritableError,
)

MENDED_SHOWN_S = 14_400.0
"""A cook may be forgotten with a damaged file, so a person must hear of it: as long as the alert is
worth telling [s].
"""


class StationWatch:
    """Follows the machine that watches the cookers. Whoever looks at the machine may do so in a
    thread of its own: what it finds is taken over whole, by one assignment.
    """

    def __init__(self, household: Household, now: Moment) -> None:
        self.survey: Survey | None = None
        self.mended: Mended | None = None
        self._book = AlarmBook(OWN, STATION_RULES, household, now)
        self._house = household
        self._step: tuple[float, float] | None = None  # how far the clock jumped, and when
        self._trouble: StoreTrouble | None = None

    def restore(self, records: Iterable[AlarmRecord]) -> None:
        """Take up the alarms where they were left."""
        self._book.restore(r for r in records if r.cooker == OWN)

    @property
    def records(self) -> Mapping[str, AlarmRecord]:
        """How every alarm of the station stands."""
        return self._book.records

    def take(self, event: Event, now: Moment) -> None:
        """Let a person answer an alarm; other events concern no station.

        Raises CookError when there is no such alarm.
        """
        if event.kind not in (EventKind.ACKNOWLEDGE, EventKind.SHELVE):
            raise CookError(
                f"{event.kind} of the station: only a cooker can do that; name one of them"
            )
        self._book.answer(event, self._house.policies.__getitem__, now)

    def calibration(self, event: Event) -> Calibration:
        """What an event tells of a probe of the station. Raises CookError when that cannot be."""
        return told(event, self._house.station.probes)

    def clock_stepped(self, step: ClockStep, now: Moment) -> None:
        """Hear that the wall clock jumped. That of a clock set for the first time is no news."""
        if step.was_trusted:
            self._step = (step.shift_s, now.mono_s)

    def written(self, failure: StoreError | None) -> None:
        """Hear how the last try to write readings ended."""
        match failure:
            case None:
                self._trouble = None
            case StoreFullError():
                self._trouble = StoreTrouble.FULL
            case StoreUnwritableError():
                self._trouble = StoreTrouble.UNWRITABLE
            case StoreDamagedError():
                self._trouble = StoreTrouble.DAMAGED
            case _:
                self._trouble = StoreTrouble.OTHER

    def step(self, now: Moment, *, cooking: bool) -> Changes:
        """Look at every alarm, and say what changed since the last look."""
        house, facts, records = self._house, self._facts(now, cooking=cooking), dict(self.records)
        case = StationCase(facts, records, house.policies, house.limits.own, house.wording)
        return self._book.step(evaluate_station(case), house.policies.__getitem__, now)

    def _facts(self, now: Moment, *, cooking: bool) -> StationFacts:
        survey, step, mended = self.survey, self._step, self.mended
        if mended is not None and not mended.lasting:
            mended = mended if now.mono_s - mended.found.mono_s <= MENDED_SHOWN_S else None
        if survey is not None and now.mono_s - survey.mono_s > self._house.limits.own.fresh_s:
            survey = None
        return StationFacts(
            station=self._house.station.name,
            at=now.at,
            clock_trusted=now.trusted,
            step=None if step is None else Step(step[0], now.mono_s - step[1]),
            trouble=self._trouble,
            survey=survey,
            cooking=cooking,
            mended=mended,
        )
