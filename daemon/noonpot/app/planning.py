"""Plans from the configuration: the sun of the day, a weather file, and what past cooks taught."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path

import numpy as np

from noonpot.app.daytables import station_tables
from noonpot.app.machine import system_clock
from noonpot.app.teaching import known
from noonpot.core import load
from noonpot.core.dayahead import DayAhead, day_ahead
from noonpot.core.foods import food_named, target_at
from noonpot.core.learning import Knowledge
from noonpot.core.localtime import clock_time, day_named, within
from noonpot.core.names import meant
from noonpot.core.planning import Dish, Plan, Wish, plan
from noonpot.core.rehearsal import Tending
from noonpot.core.skykind import TYPICAL, SkyKind, sky_named
from noonpot.core.sun import DayTable, solar_date, sun_lost_at
from noonpot.core.water import boiling_point_c
from noonpot.core.weather import Weather, parse_weather
from noonpot.core.wording import Wording
from noonpot.errors import CookError, WeatherError
from noonpot.settings.values import Settings

AIR_C = 20.0
SOON = timedelta(minutes=5)
FRIDGE_C = 5.0
"""Food that can make people ill comes from the refrigerator: FDA Food Code 3-501.16, 41 °F."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a person asked, word for word; None is "as usual"."""

    food: str
    cooker: str | None = None
    mass_kg: float | None = None
    start_c: float | None = None
    air_c: float | None = None
    sky: str | None = None
    weather: Path | None = None
    on: str | None = None
    at: str | None = None
    meal: str | None = None
    turn_every_min: float | None = None
    left: bool = False


class Planner:
    """Answers for one station."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._place = settings.station.place
        self._sun = station_tables(settings, system_clock())

    def plans(self, asked: Question, now: datetime) -> tuple[Wish, list[Plan]]:
        """What was understood, and the plan of each cooker asked for.

        Raises CookError for what cannot be asked, WeatherError for a file that cannot be used,
        SunTableError when the sun cannot be computed.
        """
        cookers = self._settings.station.cookers
        names = [spec.name for spec in cookers]
        if asked.cooker is not None and asked.cooker not in names:
            raise CookError(f"there is no cooker {asked.cooker!r}; {meant(asked.cooker, names)}")
        wish = self._wish(asked, now)
        taught = known(self._settings)
        plans = []
        for spec in cookers:
            if asked.cooker in (None, spec.name):
                knowledge = taught.get(spec.name, Knowledge())
                plans.append(plan(spec, knowledge, wish, _tending(asked, knowledge)))
        return wish, plans

    def _wish(self, asked: Question, now: datetime) -> Wish:
        day, table = self._date(asked.on, now)
        at, meal = self._time("--at", asked.at, day), self._time("--meal", asked.meal, day)
        ahead = self._daylight(table, day, now, at)
        sky, air_c = self._sky(asked, day, ahead)
        if asked.air_c is not None or air_c is None:
            air_c = _between(
                "--air-c", AIR_C if asked.air_c is None else asked.air_c, -40, 60, "°C"
            )
        dish = self._dish(asked, air_c)
        if at is not None and meal is not None and meal <= at:
            raise CookError(f"--meal {asked.meal} is not after --at {asked.at}; move one of them")
        if meal is not None and meal <= ahead.time_of(0):
            raise CookError(f"--meal {asked.meal} is past, or before the sun is of use")
        return Wish(
            dish, ahead, sky, air_c, self._settings.timezone, at, meal, self._settings.rescue
        )

    def _time(self, option: str, text: str | None, day: date) -> datetime | None:
        if text is None:
            return None
        clock = clock_time(option, text)
        return within(day, self._place.longitude, clock, self._settings.timezone)

    def _date(self, on: str | None, now: datetime) -> tuple[date, DayTable]:
        """The solar day that is meant, and its table: today, or tomorrow when the sun is lost."""
        today = solar_date(now, self._place.longitude)
        if on is None:
            table = self._sun.day(self._place, today)
            if sun_lost_at(table, self._place, now) is not None:
                return today, table
        day = day_named(on or "tomorrow", today)
        if day < today:
            raise CookError(f"--on {day} is past; plans are for days to come")
        return day, self._sun.day(self._place, day)

    def _daylight(self, table: DayTable, day: date, now: datetime, at: datetime | None) -> DayAhead:
        clock = Wording(timezone=self._settings.timezone).clock
        if at is not None and at < now - SOON:
            raise CookError(f"--at {clock(at)} is past; it is {clock(now)}")
        ahead = day_ahead(table, self._place, now, at)
        if len(ahead) < 2:
            raise CookError(f"there is no sun left on {day}; name another day with --on")
        if at is not None and at >= ahead.time_of(len(ahead)):
            lost = clock(ahead.time_of(len(ahead)))
            raise CookError(f"--at {clock(at)} is too late: the sun is lost at {lost}")
        return ahead

    def _dish(self, asked: Question, air_c: float) -> Dish:
        name = asked.food
        if asked.cooker is None and name in [c.name for c in self._settings.station.cookers]:
            raise CookError(
                f"{name} is a cooker; say what to cook, such as noonpot plan {name} rice"
            )
        food = food_named(self._settings.foods, name)
        boiling_c = boiling_point_c(self._place.elevation_m)
        usual_c = min(FRIDGE_C, air_c) if food.hazardous else air_c
        mass_kg = load.MASS_KG[food.wet] if asked.mass_kg is None else asked.mass_kg
        return Dish(
            food=food,
            mass_kg=_between("--mass-kg", mass_kg, 0.02, 50, "kg"),
            start_c=_between(
                "--start-c", usual_c if asked.start_c is None else asked.start_c, -30, 100, "°C"
            ),
            target=target_at(food, boiling_c, Wording(self._settings.units).temperature),
            boiling_c=boiling_c,
        )

    def _sky(self, asked: Question, day: date, ahead: DayAhead) -> tuple[SkyKind, float | None]:
        """The sky to reckon with, and the air [°C] if the weather file tells it."""
        if asked.weather is None:
            return sky_named(asked.sky or TYPICAL), None
        if asked.sky is not None:
            raise CookError("--sky and --weather both tell of the sky; give one of them")
        try:
            return self._from_file(read_weather(asked.weather, self._settings.timezone), day, ahead)
        except WeatherError as error:
            raise WeatherError(f"{asked.weather}: {error}") from error

    def _from_file(
        self, weather: Weather, day: date, ahead: DayAhead
    ) -> tuple[SkyKind, float | None]:
        told = weather.days(day, self._place.longitude)
        tables = self._sun.days(self._place, told)
        rows = [
            weather.index(d, table, self._place, day, ahead.middles_s)
            for d, table in zip(told, tables, strict=True)
        ]
        good = np.array([row for row in rows if np.isfinite(row).all()])
        if len(good) == 0:
            raise WeatherError("it tells too little of the daylight; it needs four rows a day")
        words = (
            "that of this day in the weather file"
            if told == [day]
            else f"as on {len(good)} days around this date in the weather file, each as likely"
        )
        airs = [weather.air(d, t, self._place) for d, t in zip(told, tables, strict=True)]
        known_c = [air for air in airs if air is not None]
        return SkyKind(words, days=good), float(np.mean(known_c)) if known_c else None


def read_weather(path: Path, timezone: tzinfo) -> Weather:
    """The weather that a file tells. Raises WeatherError when it cannot be read."""
    try:
        return parse_weather(path.read_text(encoding="utf-8-sig"), timezone)
    except OSError as error:
        raise WeatherError(error.strerror or str(error)) from error
    except UnicodeDecodeError as error:
        raise WeatherError(f"byte {error.start} is no UTF-8; is this text?") from error


def _tending(asked: Question, knowledge: Knowledge) -> Tending:
    every_min = asked.turn_every_min
    if every_min is None:
        return Tending(knowledge.habit.every_s, asked.left)
    return Tending(60 * _between("--turn-every", every_min, 5, 600, "minutes"), asked.left)


def _between(option: str, value: float, low: float, high: float, unit: str) -> float:
    if not low <= value <= high:
        raise CookError(f"{option} is {value:g}, but must be {low:g} to {high:g} {unit}")
    return value
