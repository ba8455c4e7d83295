"""A weather file: the sky of some days, forecast or past, as a table.

docs/weather.md shows the format to its readers.
"""

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo

import numpy as np
from numpy.typing import NDArray

from noonpot.core import light
from noonpot.core.names import meant
from noonpot.core.station import Place
from noonpot.core.sun import DayTable, solar_date, solar_midnight, unix_s
from noonpot.errors import WeatherError

Floats = NDArray[np.float64]

TIME, AIR = "time", "air_c"
SKIES: Mapping[str, tuple[float, float]] = {
    "ghi_wm2": (0.0, 1500.0),
    "clear_sky_index": (0.0, 1.6),
    "cloud_percent": (0.0, 100.0),
}
"""What may tell of the sky, and between which bounds."""
BOUNDS = {**SKIES, AIR: (-60.0, 60.0)}
LOW_DEG = 8.0
"""Of a lower sun an hourly mean tells nothing about the sky."""
LEAST_ROWS = 4
NEAR_DAYS = 15
MOST_DAYS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Rows in the order of time: ``times_s`` [Unix s]; ``values`` of the column ``kind`` (global
    horizontal irradiance [W/m²], clear-sky index, or cloud cover [%]); ``air_c`` [°C], NaN where
    nobody says. All of shape (m,).
    """

    times_s: Floats
    kind: str
    values: Floats
    air_c: Floats

    def days(self, day: date, longitude: float) -> list[date]:
        """The solar days that tell of this one: itself, if the file has it; else those within 15
        days of its date, of any year, the newest sixty at most.

        Raises WeatherError when there is none.
        """
        moments = (datetime.fromtimestamp(t, UTC) for t in self.times_s)
        rows = Counter(solar_date(moment, longitude) for moment in moments)
        known = sorted(d for d, count in rows.items() if count >= LEAST_ROWS)
        if day in known:
            return [day]
        near = [d for d in known if _apart(d, day) <= NEAR_DAYS]
        if not near:
            told = f"it tells of {known[0]} to {known[-1]}" if known else "no day in it is whole"
            raise WeatherError(
                f"it has neither {day} nor a day within {NEAR_DAYS} days of that date in any year; "
                f"{told}"
            )
        return near[-MOST_DAYS:]

    def index(
        self, told: date, table: DayTable, place: Place, day: date, times_s: Floats
    ) -> Floats:
        """The clear-sky index of day ``told`` moved to ``day``, at Unix times [s], shape (n,).

        ``table`` is that of ``told``. All NaN when the file has too little of its daylight.
        """
        shift_s = solar_midnight(told, place.longitude) - solar_midnight(day, place.longitude)
        rows, sky = self._rows(told, table, place)
        index = self._as_index(rows, sky)
        good = np.isfinite(index) & (sky.elevation_deg >= LOW_DEG)
        if good.sum() < LEAST_ROWS:
            return np.full(len(times_s), np.nan)
        times = self.times_s[rows][good] - shift_s.total_seconds()
        return np.asarray(np.interp(times_s, times, index[good]))

    def air(self, told: date, table: DayTable, place: Place) -> float | None:
        """The air in the daylight of a day [°C], None when the file does not tell."""
        rows, sky = self._rows(told, table, place)
        air = self.air_c[rows][sky.elevation_deg > 0]
        return float(np.nanmean(air)) if np.isfinite(air).any() else None

    def _rows(
        self, told: date, table: DayTable, place: Place
    ) -> tuple[NDArray[np.bool_], light.ClearSky]:
        begin_s = unix_s(solar_midnight(told, place.longitude))
        rows = (self.times_s >= begin_s) & (self.times_s < begin_s + 86400.0)
        return rows, light.clear_sky([table], (), self.times_s[rows])

    def _as_index(self, rows: NDArray[np.bool_], sky: light.ClearSky) -> Floats:
        values = self.values[rows]
        if self.kind == "ghi_wm2":
            return light.index_of(values, sky)
        return cloud_index(values) if self.kind == "cloud_percent" else values


def cloud_index(percent: Floats) -> Floats:
    """Clear-sky index under so much cloud: 1 - 0.75 N^3.4, Kasten and Czeplak (1980, from memory).

    >>> round(float(cloud_index(np.array(75.0))), 2)  # 1 - 0.75 x 0.376
    0.72
    """
    return np.asarray(1 - 0.75 * (percent / 100) ** 3.4)


def parse_weather(text: str, timezone: tzinfo) -> Weather:
    """The weather that a file tells; times without a zone are those of the station.

    Raises WeatherError with the line that cannot be read.
    """
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if _tells(line)]
    if not lines:
        raise WeatherError("it is empty; its first line names the columns, such as time,ghi_wm2")
    names = [name.strip().lower() for name in next(csv.reader([lines[0][1]]))]
    kind = _kind(names)
    rows: dict[float, tuple[float, float]] = {}
    for number, line in lines[1:]:
        cells = dict(zip(names, next(csv.reader([line])), strict=False))
        at_s = _time(cells.get(TIME, ""), timezone, number)
        if at_s in rows:
            raise WeatherError(f"line {number}: the time {cells[TIME].strip()} was there before")
        value = _number(cells, kind, number)
        if np.isfinite(value):
            rows[at_s] = value, _number(cells, AIR, number)
    if not rows:
        raise WeatherError(f"no line has a value of {kind} below the column names")
    times = sorted(rows)
    values, air = np.array([rows[t] for t in times]).T
    return Weather(np.array(times), kind, values, air)


def _tells(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _kind(names: Sequence[str]) -> str:
    for name in names:
        if name not in (TIME, *BOUNDS):
            raise WeatherError(f"column {name!r} is not known; {meant(name, [TIME, *BOUNDS])}")
    told = [name for name in names if name in SKIES]
    if TIME not in names or len(told) != 1 or len(set(names)) != len(names):
        raise WeatherError(
            f"its columns are {', '.join(names)}, but must be time, one of {', '.join(SKIES)}, and "
            f"{AIR} if you like, each once"
        )
    return told[0]


def _time(text: str, timezone: tzinfo, number: int) -> float:
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        raise WeatherError(
            f"line {number}: {text.strip()!r} is no time; write it like 2026-06-03T14:00 or, with "
            "its zone, 2026-06-03T14:00-06:00"
        ) from None
    return unix_s(at if at.utcoffset() is not None else at.replace(tzinfo=timezone))


def _number(cells: Mapping[str, str], name: str, number: int) -> float:
    """The number in a cell, NaN in an empty one."""
    text = (cells.get(name) or "").strip()
    low, high = BOUNDS[name]
    try:
        value = float(text) if text else np.nan
    except ValueError:
        value = np.inf
    if not (np.isnan(value) or low <= value <= high):
        raise WeatherError(
            f"line {number}: {name} is {text!r}, but must be a number from {low:g} to {high:g}"
        )
    return value


def _apart(one: date, other: date) -> int:
    """Days between two dates of the calendar, whatever their years."""
    gap = abs(one.timetuple().tm_yday - other.timetuple().tm_yday)
    return min(gap, 365 - gap)
