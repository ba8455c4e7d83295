"""The floor under the table of the sun: pvlib's own two calls for the same times of one day.

Run as a process of its own: python tests/bench/bare_sun.py LATITUDE LONGITUDE ELEVATION_M
"""

import sys

import pandas as pd
from pvlib.location import Location

ROWS, STEP_S = 751, 120


def sun_and_sky(latitude: float, longitude: float, elevation_m: float) -> float:
    """Position of the sun and clear sky through one day; returns the largest irradiance [W/m²]."""
    times = pd.date_range("2026-06-03T00:00Z", periods=ROWS, freq=f"{STEP_S}s")
    spot = Location(latitude, longitude, "UTC", elevation_m)
    sun = spot.get_solarposition(times)
    sky = spot.get_clearsky(times, model="ineichen", solar_position=sun)
    return float(sky["ghi"].max())


if __name__ == "__main__":
    print(sun_and_sky(*map(float, sys.argv[1:])))
