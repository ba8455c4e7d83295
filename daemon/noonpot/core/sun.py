"""Sun angles, the day table, misaim and what it costs, horizon and shadow.

Azimuth is clockwise from true north, elevation above the horizon, both in degrees. A *solar day*
runs from midnight to midnight of local mean solar time, so that no day of sun is ever cut in two by
the date of UTC.
"""

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from noonpot.core.moment import iso
from noonpot.core.station import Place

Floats = NDArray[np.float64]
Horizon = tuple[tuple[float, float], ...]

LOST_BELOW_DEG = 5.0
"""Under this elevation the sun counts as lost for cooking, whatever the horizon [degrees]."""

FALL_OFF = 1.5
"""How steeply the reflectors lose their light around the acceptance angle; see ``light_share``."""


@dataclass(frozen=True, slots=True)
class SunSky:
    """Sun and clear sky at one instant.

    ``azimuth_deg`` clockwise from true north, ``elevation_deg`` above the horizon, refraction
    included [degrees]; ``ghi``, ``dni``, ``dhi`` are the clear-sky global horizontal, direct normal
    and diffuse horizontal irradiance [W/m²].
    """

    azimuth_deg: float
    elevation_deg: float
    ghi: float
    dni: float
    dhi: float


class SunPath(NamedTuple):
    """Sun and clear sky at many instants: the quantities of ``SunSky`` as arrays of shape (n,)."""

    azimuth_deg: Floats
    elevation_deg: Floats
    ghi: Floats
    dni: Floats
    dhi: Floats


@dataclass(frozen=True, slots=True, eq=False)
class DayTable:
    """Sun and clear sky of one day in equal steps. All arrays have shape (n,).

    ``start_s`` is the Unix time [s] of the first row, ``step_s`` the distance of rows [s].
    """

    start_s: float
    step_s: float
    azimuth_deg: Floats
    elevation_deg: Floats
    ghi: Floats
    dni: Floats
    dhi: Floats

    def __post_init__(self) -> None:
        lengths = {len(column) for column in self._columns()}
        if len(lengths) != 1 or min(lengths) < 2:
            raise ValueError(
                f"sun table has columns of {sorted(lengths)} rows; all need the same, 2 or more"
            )
        if not self.step_s > 0:
            raise ValueError(f"sun table has a step of {self.step_s} s; it must be above 0")

    @property
    def end_s(self) -> float:
        """Unix time [s] of the last row."""
        return self.start_s + self.step_s * (len(self.ghi) - 1)

    def times_from(self, when: datetime) -> Floats:
        """Unix times [s] of ``when`` and of all rows after it, shape (n,)."""
        rows = self.start_s + self.step_s * np.arange(len(self.ghi))
        first = unix_s(when)
        return np.concatenate(([first], rows[rows > first]))

    def at(self, when: datetime) -> SunSky:
        """Sun and clear sky at one instant. Raises ValueError outside the table."""
        path = self.at_many(np.array([unix_s(when)]))
        return SunSky(*(float(column[0]) for column in path))

    def at_many(self, times_s: Floats) -> SunPath:
        """Sun and clear sky at many Unix times [s], shape (n,).

        Raises ValueError for a time outside the table. The direction is interpolated as a vector:
        neither the jump of the azimuth from 360 to 0 nor a sun that races through the zenith harms.
        """
        row = (times_s - self.start_s) / self.step_s
        last = len(self.ghi) - 1
        outside = (row < 0) | (row > last)
        if outside.any():
            raise ValueError(self._outside(float(times_s[outside][0])))
        left = np.minimum(row.astype(np.intp), last - 1)
        right, part = left + 1, row - left

        before = _direction(self.azimuth_deg[left], self.elevation_deg[left])
        after = _direction(self.azimuth_deg[right], self.elevation_deg[right])
        east, north, up = before + part * (after - before)
        return SunPath(
            np.degrees(np.arctan2(east, north)) % 360,
            np.degrees(np.arctan2(up, np.hypot(east, north))),
            *(c[left] + part * (c[right] - c[left]) for c in (self.ghi, self.dni, self.dhi)),
        )

    def _columns(self) -> SunPath:
        return SunPath(self.azimuth_deg, self.elevation_deg, self.ghi, self.dni, self.dhi)

    def _outside(self, time_s: float) -> str:
        when, start, end = (
            iso(datetime.fromtimestamp(s, UTC)) for s in (time_s, self.start_s, self.end_s)
        )
        return (
            f"{when} is outside this sun table, which runs from {start} to {end}; "
            "ask for the table of that time's solar date"
        )


def unix_s(when: datetime) -> float:
    """Unix time [s]. Raises ValueError for a time without a zone.

    >>> unix_s(datetime(1970, 1, 2, tzinfo=UTC))
    86400.0
    """
    if when.utcoffset() is None:
        raise ValueError(f"time {when.isoformat()} has no time zone; give it in UTC")
    return when.timestamp()


def solar_date(when: datetime, longitude: float) -> date:
    """The date by local mean solar time at this longitude [degrees, east positive].

    The sun needs an hour for 15 degrees: at 170° E it is still 2 June in UTC when 3 June is some
    hours old.

    >>> solar_date(datetime(2026, 6, 2, 22, 0, tzinfo=UTC), 170.0)
    datetime.date(2026, 6, 3)
    """
    return datetime.fromtimestamp(unix_s(when) + longitude * 240, UTC).date()


def solar_midnight(day: date, longitude: float) -> datetime:
    """When the solar day begins at this longitude [degrees, east positive]; it lasts 24 h.

    >>> solar_midnight(date(2026, 6, 3), 170.0).isoformat()
    '2026-06-02T12:40:00+00:00'
    """
    return datetime.combine(day, time(), UTC) - timedelta(seconds=longitude * 240)


@overload
def angle_between(aim_az: float, aim_el: float, sun_az: float, sun_el: float) -> float: ...
@overload
def angle_between(aim_az: float, aim_el: float, sun_az: Floats, sun_el: Floats) -> Floats: ...
def angle_between(
    aim_az: float, aim_el: float, sun_az: float | Floats, sun_el: float | Floats
) -> float | Floats:
    """Misaim: the angle in space between aim and sun [degrees], for one sun or an array of them.

    A high sun makes wide swings in azimuth that are small turns in space, so the azimuth alone
    would mislead. Half-angle (haversine) form, exact for small angles.

    >>> round(angle_between(90.0, 0.0, 180.0, 0.0), 6)
    90.0
    >>> round(angle_between(90.0, 80.0, 180.0, 80.0), 2)  # 2 asin(cos 80° sin 45°)
    14.11
    """
    across = np.sin(np.radians(np.subtract(sun_az, aim_az)) / 2) ** 2
    along = np.sin(np.radians(np.subtract(sun_el, aim_el)) / 2) ** 2
    square = along + np.cos(np.radians(aim_el)) * np.cos(np.radians(sun_el)) * across
    angle: Floats = np.degrees(2 * np.arcsin(np.sqrt(np.minimum(square, 1.0))))
    return angle if isinstance(sun_az, np.ndarray) else float(angle)


def light_share(misaim_deg: float, acceptance_deg: float) -> float:
    """Direct light on the aperture as a share of what a perfect aim would give [0 to 1].

    The foreshortened aperture, cos(misaim), times what the reflectors still send in: a half at the
    acceptance angle. Form and exponent were fitted to a ray-tracing of our own of four flat mirrors
    (flare 60°, as long as the aperture: acceptance 30°), which it meets within 0.04.

    >>> round(light_share(30.0, 30.0), 3)  # cos 30° / 2
    0.433
    """
    if not acceptance_deg > 0:
        raise ValueError(f"acceptance angle is {acceptance_deg}°; it must be above 0")
    cosine = max(0.0, math.cos(math.radians(misaim_deg)))
    return cosine / (1 + math.pow(misaim_deg / acceptance_deg, FALL_OFF))


def tolerance_deg(acceptance_deg: float, min_gain: float) -> float:
    """The misaim at which turning gains ``min_gain`` more light, 0.15 for 15 % [degrees].

    Raises ValueError unless both are above 0.

    >>> round(light_share(tolerance_deg(30.0, 0.25), 30.0), 6)  # 1 / 1.25
    0.8
    """
    if not min_gain > 0:
        raise ValueError(f"smallest gain worth a turn is {min_gain}; it must be above 0")
    low, high = 0.0, 90.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        worth_a_turn = light_share(middle, acceptance_deg) * (1 + min_gain) < 1
        low, high = (low, middle) if worth_a_turn else (middle, high)
    return low


def horizon_elevation(horizon: Horizon, azimuth_deg: float) -> float:
    """Elevation of what hides the sun in this direction [degrees]; straight between corners.

    >>> horizon_elevation(((90.0, 20.0), (180.0, 0.0)), 135.0)
    10.0
    """
    return float(_skyline(horizon, np.array([azimuth_deg]))[0])


def sun_is_up(sky: SunSky, horizon: Horizon) -> bool:
    """Whether the sun is of use: above the horizon and above 5°."""
    return sky.elevation_deg > max(LOST_BELOW_DEG, horizon_elevation(horizon, sky.azimuth_deg))


def sun_lost_at(table: DayTable, place: Place, after: datetime) -> datetime | None:
    """The last moment of the table at which the sun is up, None when it is not up any more.

    A tree that hides the sun for a while does not end the day. Where the sun does not set, this is
    the end of the table. Raises ValueError when ``after`` is outside the table.
    """
    times = table.times_from(after)
    path = table.at_many(times)
    lowest = np.maximum(LOST_BELOW_DEG, _skyline(place.horizon, path.azimuth_deg))
    margin = path.elevation_deg - lowest
    up = np.flatnonzero(margin > 0)
    if len(up) == 0:
        return None
    last = up[-1]
    ends = slice(last, last + 2)
    lost_s = np.interp(0.0, -margin[ends], times[ends])
    return datetime.fromtimestamp(float(lost_s), UTC)


@dataclass(frozen=True, slots=True)
class Shadow:
    """The shadow of a peg that stands upright on level ground.

    ``azimuth_deg`` is where it points to from the foot of the peg, ``length`` in peg heights.
    """

    azimuth_deg: float
    length: float


def shadow(sun_azimuth_deg: float, sun_elevation_deg: float) -> Shadow:
    """The shadow of an upright peg. Raises ValueError when the sun is not above level ground.

    >>> s = shadow(135.0, 45.0)
    >>> s.azimuth_deg, round(s.length, 6)
    (315.0, 1.0)
    """
    if not sun_elevation_deg > 0:
        raise ValueError(f"sun elevation is {sun_elevation_deg:.1f}°; a shadow needs it above 0")
    length = 1 / math.tan(math.radians(sun_elevation_deg))
    return Shadow((sun_azimuth_deg + 180) % 360, length)


def _direction(azimuth_deg: Floats, elevation_deg: Floats) -> Floats:
    """Unit vectors (east, north, up), shape (3, n)."""
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.cos(elevation)
    return np.array([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])


def _skyline(horizon: Horizon, azimuth_deg: Floats) -> Floats:
    """Elevations of what hides the sun in these directions, shape (n,); 0 for a free horizon."""
    if not horizon:
        return np.zeros_like(azimuth_deg)
    corners, elevations = zip(*horizon, strict=True)
    skyline: Floats = np.interp(azimuth_deg, corners, elevations, period=360)
    return skyline
