"""A sun that moves by school geometry: no refraction, no equation of time, a fixed declination."""

from datetime import UTC, date, datetime, timedelta

import numpy as np

from noonpot.core.station import Place
from noonpot.core.sun import DayTable, Floats, solar_midnight

EQUATOR = Place(latitude=0.0, longitude=0.0, elevation_m=0.0)
DAY = date(2026, 3, 20)


def hour(hours: float, place: Place = EQUATOR, day: date = DAY) -> datetime:
    """A time of the day by local mean solar time: 12 is noon."""
    return solar_midnight(day, place.longitude) + timedelta(hours=hours)


def sun_at(times_s: Floats, place: Place, sun_declination_deg: float) -> Floats:
    """Unit vectors (east, north, up) to the sun, shape (3, n).

    At the equator of an equinox the sun climbs 15 degrees an hour from due east through the zenith.
    """
    turned = np.radians(times_s / 240 + place.longitude - 180)
    latitude, tilt = np.radians(place.latitude), np.radians(sun_declination_deg)
    along, aside = np.sin(tilt) + 0 * turned, np.cos(tilt) * np.cos(turned)
    return np.array(
        [
            -np.cos(tilt) * np.sin(turned),
            np.cos(latitude) * along - np.sin(latitude) * aside,
            np.sin(latitude) * along + np.cos(latitude) * aside,
        ]
    )


def geometric_table(
    place: Place = EQUATOR, sun_declination_deg: float = 0.0, day: date = DAY, step_s: float = 120.0
) -> DayTable:
    """The table of that sun for one solar day, with a beam of 900 and a diffuse of 100 W/m²."""
    start_s = hour(0, place, day).timestamp()
    times_s = start_s + np.arange(0, 86400 + step_s, step_s)
    east, north, up = sun_at(times_s, place, sun_declination_deg)
    shining = (up > 0).astype(np.float64)
    return DayTable(
        start_s=start_s,
        step_s=step_s,
        azimuth_deg=np.degrees(np.arctan2(east, north)) % 360,
        elevation_deg=np.degrees(np.arcsin(up)),
        ghi=(900 * up + 100) * shining,
        dni=900 * shining,
        dhi=100 * shining,
    )


def clock_of(when: datetime | None) -> str:
    """The time as HH:MM:SS in UTC, to compare with."""
    return (
        "never"
        if when is None
        else (when + timedelta(seconds=0.5)).astimezone(UTC).strftime("%H:%M:%S")
    )
