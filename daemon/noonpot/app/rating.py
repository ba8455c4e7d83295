"""All that the cooks of one cooker say about it, out of the store or out of recordings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from functools import cached_property
from pathlib import Path

from noonpot.app.daytables import day_tables, station_tables
from noonpot.app.machine import DATA_FILE, system_clock
from noonpot.app.replaying import read
from noonpot.app.seasons import Season
from noonpot.app.teaching import known
from noonpot.core.balance import with_sky
from noonpot.core.evidence import Evidence
from noonpot.core.foods import Food, food_named
from noonpot.core.learning import Knowledge, learn
from noonpot.core.localtime import day_named
from noonpot.core.merit import Merit, merit
from noonpot.core.names import meant
from noonpot.core.profile import Change, Profile, balances, changes, profile
from noonpot.core.rating import CookingPower, cooking_power
from noonpot.core.recording import Recording
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable, solar_date
from noonpot.core.tenminutes import Interval, brought_to_load, intervals
from noonpot.engine.replayer import believed, station_of
from noonpot.errors import CookError
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from noonpot.settings.values import Settings
from noonpot.store.export import export
from noonpot.store.reader import Reader
from noonpot.suntable import SunTables

MOST = 40
"""So many of the newest cooks are looked at."""
REBUILT = "rebuilt"
GUIDE_DAYS = 3
LESSONS = 6
"""So many recordings teach of foods and habits; each takes a second."""


@dataclass(frozen=True)
class Rater:
    """Rates one cooker by its ``cooks``, the oldest first; ``since_s`` is when it was rebuilt [Unix
    s], None for never; ``lessons`` what the daemon has learnt of it, None where there is no daemon.
    """

    spec: CookerSpec
    place: Place
    cooks: tuple[Evidence, ...]
    recordings: tuple[Recording, ...]
    sun: SunTables
    foods: Mapping[str, Food]
    since_s: float | None = None
    lessons: Knowledge | None = None

    @cached_property
    def _before(self) -> tuple[Evidence, ...]:
        since_s = self.since_s
        return () if since_s is None else tuple(c for c in self.cooks if _middle(c) < since_s)

    @cached_property
    def _after(self) -> tuple[Evidence, ...]:
        return tuple(cook for cook in self.cooks if cook not in self._before)

    @cached_property
    def profile(self) -> Profile | None:
        """What kind of cooker it is, since it was rebuilt."""
        return profile(self.spec, balances(self._after))

    @cached_property
    def profile_before(self) -> Profile | None:
        """What it was before, None when it was never rebuilt."""
        return profile(self.spec, balances(self._before))

    @property
    def changes(self) -> Mapping[str, Change]:
        """What the rebuild did; empty without one, or without cooks on both sides of it."""
        if self.profile is None or self.profile_before is None:
            return {}
        return changes(self.profile_before, self.profile)

    @cached_property
    def seen(self) -> tuple[Evidence, ...]:
        """The cooks since the rebuild, with their sky as the profile has it where no sensor was."""
        if self.profile is None:
            return self._after
        pairs = zip(self._after, self.profile.used, strict=True)
        return tuple(cook if case is None else with_sky(cook, case) for cook, case in pairs)

    def power(self) -> CookingPower:
        """Cooking power after ASABE S580.1."""
        found = [i for cook in self.seen for i in intervals(cook)]
        if self.profile is not None:
            held_j_k = self.profile.numbers["heat_capacity_j_k"].value
            found = [brought_to_load(i, held_j_k) for i in found]
        return cooking_power(found)

    def merit(self) -> Merit:
        """Both figures of merit."""
        return merit(self.seen, None if self.profile is None else self.profile.first_merit)

    def knowledge(self) -> Knowledge:
        """What a forecast starts from: the cooker as profiled, foods and habits as learnt."""
        taught = self.lessons
        if taught is None:
            here = [r for r in self.recordings if r.header.place == self.place][-LESSONS:]
            tables = _tables(self.sun, here).get(self.place, [])
            taught = learn(here, self.spec, tables, self.foods)
        if self.profile is None:
            return taught
        ahead = self.profile.ahead
        believed = (ahead.mean.tolist(), ahead.cov.tolist())
        return replace(taught, cooks=self.profile.cooks, cooker=believed)

    def season(self, names: Sequence[str] | None, air_c: float) -> Season:
        """What a table of foods and months is asked for; all foods where none is named."""
        chosen = [food_named(self.foods, name) for name in names or self.foods]
        foods = {food.name: food for food in chosen}
        return Season(self.spec, self.knowledge(), self.place, foods, air_c)

    def sides(self, key: str | None = None) -> list[tuple[str, list[Interval]]]:
        """The intervals of each cook, under the name of the cooker or what a note says of it under
        a key; without such a note a cook is left out.
        """
        held = None if self.profile is None else self.profile.numbers["heat_capacity_j_k"].value
        found = []
        for cook in self.seen:
            side = self.spec.name if key is None else cook.told(key, float("inf"))
            if side:
                some = list(intervals(cook))
                brought = some if held is None else [brought_to_load(i, held) for i in some]
                found.append((side, brought))
        return found

    def guide_tables(self, now: datetime) -> Sequence[DayTable]:
        """Sun of today and the days after. Raises SunTableError."""
        today = solar_date(now, self.place.longitude)
        days = [today + timedelta(days=n) for n in range(GUIDE_DAYS)]
        return self.sun.days(self.place, days)


def stored(settings: Settings, cooker: str, since: str | None, now: datetime) -> Rater:
    """A cooker of the configuration, by its stored cooks.

    Raises CookError when there is no such cooker, StoreError when the data file cannot be read,
    SunTableError when the sun of a day cannot be had.
    """
    specs = {spec.name: spec for spec in settings.station.cookers}
    if cooker not in specs:
        raise CookError(f"there is no cooker {cooker!r}; {meant(cooker, specs)}")
    recordings = []
    if (settings.data / DATA_FILE).exists():  # else nobody has cooked yet
        reader = Reader(settings.data / DATA_FILE, system_clock())
        mine = [c for c in reader.cooks() if c.cooker == cooker and not c.running][-MOST:]
        recordings = [export(reader, cook.id, settings.station, now) for cook in mine]
    sun = station_tables(settings, system_clock())
    begin = None if since is None else _since(since, now, settings.timezone)
    spec, place = specs[cooker], settings.station.place
    rater = _rater(spec, place, recordings, sun, settings.foods, begin)
    return replace(rater, lessons=known(settings).get(cooker, Knowledge()))


def recorded(
    files: Sequence[Path], cooker: str, since: str | None, now: datetime, timezone: tzinfo
) -> Rater:
    """A cooker by recordings alone. Raises RecordingError, or CookError when they are another's."""
    recordings = sorted((believed(read(file)) for file in files), key=lambda r: r.rows[0].at)
    names = {recording.header.cooker for recording in recordings}
    if names != {cooker}:
        other = ", ".join(sorted(names - {cooker}))
        raise CookError(f"the recordings are of {other}, not of {cooker}; name one cooker's")
    station = station_of(recordings[-1])
    begin = None if since is None else _since(since, now, timezone)
    foods = read_foods(supplied("foods.toml"))
    return _rater(station.cookers[0], station.place, recordings, day_tables(), foods, begin)


def _rater(
    spec: CookerSpec,
    place: Place,
    recordings: Sequence[Recording],
    sun: SunTables,
    foods: Mapping[str, Food],
    since_s: float | None,
) -> Rater:
    kept = tuple(recording for recording in recordings if recording.rows)
    tables = _tables(sun, kept)
    cooks = tuple(Evidence.of(r, spec, tables[r.header.place], foods) for r in kept)
    if since_s is None:
        told = [at_s for cook in cooks for at_s, detail in cook.notes if REBUILT in detail]
        since_s = max(told, default=None)
    return Rater(spec, place, cooks, kept, sun, foods, since_s)


def _tables(sun: SunTables, recordings: Sequence[Recording]) -> Mapping[Place, Sequence[DayTable]]:
    """The sun of every day on which was cooked, at each place."""
    days: dict[Place, set[date]] = {}
    for recording in recordings:
        days.setdefault(recording.header.place, set()).add(_day(recording))
    return {place: sun.days(place, sorted(some)) for place, some in days.items()}


def _day(recording: Recording) -> date:
    return solar_date(recording.rows[0].at, recording.header.place.longitude)


def _since(text: str, now: datetime, timezone: tzinfo) -> float:
    day = day_named(text, now.astimezone(timezone).date())
    return datetime.combine(day, datetime.min.time(), timezone).timestamp()


def _middle(cook: Evidence) -> float:
    span = cook.log.trace.span()
    return 0.0 if span is None else sum(span) / 2
