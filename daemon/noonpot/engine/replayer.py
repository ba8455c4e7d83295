"""A recording through the whole watch, at once, on the recording's own clock."""

import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from statistics import median

from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import DEFAULT_MAX_RATE_C_S, ProbeFilter
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment, iso
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import FaultKind, Reading, Role, Sample
from noonpot.core.recording import Recording, Row
from noonpot.core.station import CookerSpec, ProbeSpec, Station
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.sieve import Sieve
from noonpot.engine.watch import Watch
from noonpot.errors import CookError

log = logging.getLogger(__name__)

LOOK_S = 60.0
ROUND = timedelta(seconds=10)
"""A recording with a row every 2 s need not be judged 16 000 times in nine hours."""
START_VALUE_C = 85.0
"""What a digital probe shows before its first conversion: DS18B20 data sheet, Maxim 19-7487."""
LEAP_C = 20.0
"""From one slow row to the next only a probe that is moved changes more (our choice)."""
HEATING_C_S = 0.15
"""A pot in the sun may warm up so fast, however slow the rows are: 9 K a minute (our choice)."""
PACE_ROWS = 8
NO_LIMIT = float("inf")
FORECAST_S = 600.0
"""The alarms go by a forecast no older than this, asked for or not."""


@dataclass(frozen=True, slots=True)
class Replayed:
    """What the watch would have said at one moment of the recording."""

    at: datetime
    said: Forecast | AlarmRecord


def station_of(recording: Recording) -> Station:
    """The station a recording tells of: one cooker, one probe for each role."""
    header = recording.header
    cooker = CookerSpec(header.cooker)
    if header.aperture_m2 is not None:
        cooker = replace(cooker, aperture_m2=header.aperture_m2)
    if header.acceptance_deg is not None:
        cooker = replace(cooker, acceptance_deg=header.acceptance_deg)
    probes = tuple(ProbeSpec(role, role, "recording", role, header.cooker) for role in Role)
    return Station("replay", header.place, (cooker,), probes)


def limits_for(recording: Recording, limits: RuleLimits) -> RuleLimits:
    """Limits that fit the recording's own pace: a log of one row in five minutes is no silence."""
    step_s = pace_s(recording)
    return replace(
        limits,
        fresh_s=max(limits.fresh_s, 2.5 * step_s),
        no_news_s=max(limits.no_news_s, 3.0 * step_s),
    )


def pace_s(recording: Recording) -> float:
    """The usual time from one row of readings to the next [s], 0 with fewer than two; by the first
    rows alone, for nothing that is said may depend on what comes later.
    """
    times = [row.at for row in recording.rows if row.values][:PACE_ROWS]
    gaps = [(b - a).total_seconds() for a, b in pairwise(times)]
    return median(gaps) if gaps else 0.0


def sieve_for(recording: Recording) -> Sieve:
    """What the daemon would not have believed is not believed of a recording either: the start
    value of a digital probe, and leaps from row to row. Light leaps with every cloud.
    """
    step_s = max(pace_s(recording), 1.0)
    rate = min(DEFAULT_MAX_RATE_C_S, max(LEAP_C / step_s, HEATING_C_S))
    return Sieve({r: ProbeFilter(NO_LIMIT if r is Role.IRRADIANCE else rate) for r in Role})


def readings_of(row: Row) -> list[Reading]:
    """The readings of one row, one probe for each role; 85.0 °C in doubt as a driver would."""
    mono_s = row.at.timestamp()
    return [
        Reading(
            role,
            row.at,
            mono_s,
            value,
            FaultKind.POWER_ON_VALUE
            if value == START_VALUE_C and role is not Role.IRRADIANCE
            else None,
        )
        for role, value in row.values.items()
    ]


def believed(recording: Recording) -> Recording:
    """The recording without the values that must not be believed."""
    sieve, rows = sieve_for(recording), []
    for row in recording.rows:
        heard = [s for s in sieve.sift(readings_of(row)) if isinstance(s, Reading)]
        rows.append(replace(row, values={Role(s.probe): s.value for s in heard}))
    return replace(recording, rows=rows)


def rounds(rows: Sequence[Row]) -> Iterator[Sequence[Row]]:
    """The rows that are judged together, at the time of the last of them: those of one instant, and
    in a dense recording those of less than ``ROUND``. What a person does is judged at once.
    """
    instants = [list(group) for _, group in groupby(rows, key=lambda row: row.at)]
    waiting: list[Row] = []
    for instant, following in zip(instants, [*instants[1:], None], strict=True):
        waiting += instant
        dense = following is not None and following[0].at - waiting[0].at < ROUND
        deed = any(row.event for row in [*instant, *(following or ())])
        if deed or not dense:
            yield waiting
            waiting = []


class Replayer:
    """Plays one recording. Nothing that is said at a moment uses a row later than that moment."""

    def __init__(
        self, recording: Recording, household: Household, daylight: Daylight, every_s: float
    ) -> None:
        self._rows = recording.rows
        self._cooker = household.station.cookers[0]
        self._every = timedelta(seconds=every_s)
        self._due: datetime | None = None
        self._household = household
        self._daylight = daylight
        self._sieve = sieve_for(recording)

    def run(self) -> Iterator[Replayed]:
        """What the watch says, in the order of time: a forecast every ``every_s`` since loading,
        every change of an alarm's state when it happens.
        """
        if not self._rows:
            return
        last = self._rows[0].at
        watch = Watch(self._cooker, self._household, self._daylight, _moment(last))
        watch.take(Event(self._cooker.name, last, EventKind.START, {}), _moment(last))
        for rows in rounds(self._rows):
            at = rows[-1].at
            yield from self._quiet(watch, last, at)
            yield from self._news(watch, at, rows)
            last = at

    def _quiet(self, watch: Watch, last: datetime, until: datetime) -> Iterator[Replayed]:
        """The time between two rows: the watch keeps looking, and sees that nothing comes."""
        look = last + timedelta(seconds=LOOK_S)
        while (at := min(look, self._due or look)) < until:
            if at == look:
                yield from self._moved(watch, at, [])
                look += timedelta(seconds=LOOK_S)
            yield from self._foresee(watch, at)

    def _news(self, watch: Watch, at: datetime, rows: Sequence[Row]) -> Iterator[Replayed]:
        if self._daylight.table(at) is None:
            self._daylight.fetch(at, ahead=0)
        samples = []
        for row in rows:
            samples += readings_of(row)
            if row.event is not None:
                self._take(watch, Event(self._cooker.name, at, row.event, row.detail))
        yield from self._moved(watch, at, self._sieve.sift(samples))
        yield from self._foresee(watch, at)

    def _take(self, watch: Watch, event: Event) -> None:
        """An event that does not fit is refused, as the daemon does, and the replay goes on."""
        try:
            watch.take(event, _moment(event.at))
        except CookError as error:
            log.warning("%s refused: %s", iso(event.at), error)
            return
        if event.kind is EventKind.LOAD:
            self._due = event.at
        elif event.kind is EventKind.UNLOAD:
            self._due = None

    def _foresee(self, watch: Watch, at: datetime) -> Iterator[Replayed]:
        """Tell a forecast when one is due, and make one for the alarms alone when theirs is old."""
        if at == self._due:
            self._due = at + self._every
            forecast = watch.foresee(_moment(at))
            if forecast is not None:
                yield Replayed(at, forecast)
        elif watch.unforeseen_s(_moment(at)) > FORECAST_S:
            watch.foresee(_moment(at))

    def _moved(self, watch: Watch, at: datetime, samples: list[Sample]) -> Iterator[Replayed]:
        for record in watch.step(_moment(at), samples, self._sieve.faults).alarms.moved:
            yield Replayed(at, record)


def _moment(at: datetime) -> Moment:
    """A recording has one clock: its seconds serve as monotonic time too."""
    return Moment(at, at.timestamp())
