"""Advice on aiming from the configuration, and from what the store says of a cooker."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from noonpot.app.daemon import household
from noonpot.app.daytables import day_tables
from noonpot.app.machine import DATA_FILE, system_clock
from noonpot.app.teaching import known
from noonpot.core.absence import Absence, for_light
from noonpot.core.cook import Cook
from noonpot.core.learning import Knowledge
from noonpot.core.moment import Moment
from noonpot.core.names import meant
from noonpot.core.pointing import AbsenceAdvice, PointingAdvice, advise, advise_absence
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable, solar_date, sun_lost_at
from noonpot.declination import declination
from noonpot.engine.daylight import Daylight
from noonpot.engine.memory import memory
from noonpot.engine.watch import Watch
from noonpot.errors import CookError
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader
from noonpot.suntable import SunTables


class Pointer:
    """Answers for one station at one moment.

    Every method raises StoreError when the data file cannot be read, SunTableError when the sun
    cannot be computed.
    """

    def __init__(self, settings: Settings, now: Moment) -> None:
        self._settings = settings
        self._now = now
        self._place = settings.station.place
        self._compass = declination(self._place, now.at)
        file = settings.data / DATA_FILE
        self._reader = Reader(file, system_clock()) if file.exists() else None

    def advice(self, cooker: str | None) -> Iterator[tuple[str, PointingAdvice | None, str]]:
        """For each cooker asked for: its name, the advice (None without sun), a word on the
        compass. Raises CookError when there is no such cooker.
        """
        specs = self._asked(cooker)
        table = self._table(self._tables())
        for spec in specs:
            cook = self._running(spec)
            found = advise(
                self._place,
                table,
                self._now.at,
                spec.acceptance_deg,
                self._settings.limits.min_gain,
                cook.aim if cook else None,
                self._compass.degrees,
            )
            yield spec.name, found, self._compass.note

    def absences(
        self, cooker: str | None, absence: Absence
    ) -> Iterator[tuple[str, AbsenceAdvice, str]]:
        """For each cooker asked for: its name, how to leave it, a word on the compass. Where a load
        is in the pot, all that its cook has shown so far is weighed.

        Raises CookError when there is no such cooker, or no sun in the absence.
        """
        specs = self._asked(cooker)
        sun = self._tables()
        table = self._table(sun)
        daylight = Daylight(self._place, sun)
        daylight.fetch(self._now.at, ahead=0)
        taught = known(self._settings)
        house = household(self._settings, self._now.at, taught)
        for spec in specs:
            watch, cook = Watch(spec, house, daylight, self._now), self._running(spec)
            if cook is not None and self._reader is not None:
                past = memory(self._reader, watch.probes, cook)
                watch.restore(cook, (), past)
            best = watch.leave(self._now, absence) or for_light(
                [table], self._place, spec, taught.get(spec.name, Knowledge()), absence
            )
            if best is None:
                raise CookError(self._no_sun(table, absence))
            aim, degrees = cook.aim if cook else None, self._compass.degrees
            found = advise_absence(self._place, table, self._now.at, absence, best, aim, degrees)
            yield spec.name, found, self._compass.note

    def _asked(self, cooker: str | None) -> Sequence[CookerSpec]:
        cookers = self._settings.station.cookers
        names = [spec.name for spec in cookers]
        if cooker is not None and cooker not in names:
            raise CookError(f"there is no cooker {cooker!r}; {meant(cooker, names)}")
        return [spec for spec in cookers if cooker in (None, spec.name)]

    def _tables(self) -> SunTables:
        return day_tables() if self._reader is None else day_tables(self._reader)

    def _table(self, sun: SunTables) -> DayTable:
        return sun.day(self._place, solar_date(self._now.at, self._place.longitude))

    def _running(self, spec: CookerSpec) -> Cook | None:
        """The running cook of a cooker, None while there is none."""
        if self._reader is None:
            return None
        cooks = [c for c in self._reader.cooks() if c.running and c.cooker == spec.name]
        return cooks[-1] if cooks else None

    def _no_sun(self, table: DayTable, absence: Absence) -> str:
        zone = self._settings.timezone
        begin, end = (
            f"{datetime.fromtimestamp(at_s, zone):%H:%M}"
            for at_s in (absence.since_s, absence.until_s)
        )
        lost = sun_lost_at(table, self._place, datetime.fromtimestamp(table.start_s, UTC))
        today = (
            "it is too low all day"
            if lost is None
            else f"it is lost for today at {lost.astimezone(zone):%H:%M}"
        )
        return f"--away: the sun is of no use from {begin} to {end}: {today}; name a time with sun"
