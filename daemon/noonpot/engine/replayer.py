"""A recording through the whole watch, at once, on the recording's own clock."""

import logging
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from statistics import median

from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import Event, EventKind
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment, iso
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Reading, Role
from noonpot.core.recording import Recording, Row
from noonpot.core.station import CookerSpec, ProbeSpec, Station
from noonpot.engine.daylight import Daylight
from noonpot.engine.watch import Household, Watch
from noonpot.errors import CookError

log = logging.getLogger(__name__)

LOOK_S = 60.0
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
    times = [row.at for row in recording.rows if row.values]
    gaps = [(b - a).total_seconds() for a, b in pairwise(times)]
    step_s = median(gaps) if gaps else 0.0
    return replace(
        limits,
        fresh_s=max(limits.fresh_s, 2.5 * step_s),
        no_news_s=max(limits.no_news_s, 3.0 * step_s),
    )


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

    def run(self) -> Iterator[Replayed]:
        """What the watch says, in the order of time: a forecast every ``every_s`` since loading,
        every change of an alarm's state when it happens.
        """
        if not self._rows:
            return
        last = self._rows[0].at
        watch = Watch(self._cooker, self._household, self._daylight, _moment(last))
        watch.take(Event(self._cooker.name, last, EventKind.START, {}), _moment(last))
        for at, rows in groupby(self._rows, key=lambda row: row.at):
            yield from self._quiet(watch, last, at)
            yield from self._news(watch, at, list(rows))
            last = at

    def _quiet(self, watch: Watch, last: datetime, until: datetime) -> Iterator[Replayed]:
        """The time between two rows: the watch keeps looking, and sees that nothing comes."""
        look = last + timedelta(seconds=LOOK_S)
        while (at := min(look, self._due or look)) < until:
            if at == look:
                yield from _moved(watch, at, [])
                look += timedelta(seconds=LOOK_S)
            yield from self._foresee(watch, at)

    def _news(self, watch: Watch, at: datetime, rows: list[Row]) -> Iterator[Replayed]:
        if self._daylight.table(at) is None:
            self._daylight.fetch(at, ahead=0)
        samples = []
        for row in rows:
            samples += [
                Reading(role, at, at.timestamp(), value) for role, value in row.values.items()
            ]
            if row.event is not None:
                self._take(watch, Event(self._cooker.name, at, row.event, row.detail))
        yield from _moved(watch, at, samples)
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


def _moved(watch: Watch, at: datetime, samples: list[Reading]) -> Iterator[Replayed]:
    for record in watch.step(_moment(at), samples).moved:
        yield Replayed(at, record)


def _moment(at: datetime) -> Moment:
    """A recording has one clock: its seconds serve as monotonic time too."""
    return Moment(at, at.timestamp())
