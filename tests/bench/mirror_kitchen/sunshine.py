"""Weather and sun on many collectors: the measured day of each cook, wind, sky, and where its light
becomes heat. Arrays have shape (cooks, minutes), from the start of each cook.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from bench.measured import MeasuredDay
from bench.mirror_kitchen.collectors import AIM_STEP_DEG, OFF_AXIS_DEG, STEP_DEG, Catch
from bench.mirror_kitchen.cookers import KINDS, Cookers
from bench.mirror_kitchen.oven import INNER, LID, MASSES, OUTER, POT, TRAY
from bench.mirror_kitchen.plans import Plan

Floats = NDArray[np.float64]
SOLAR_WM2 = 1361.0
GLASS_ABSORBS = 0.045
SNOW, GRASS = 0.4, 0.2
"""Albedo; only the winter day has snow (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Air and sky [°C], wind [m/s], light [W/m²], sun and aim [degrees]."""

    air_c: Floats
    sky_c: Floats
    wind_ms: Floats
    ghi: Floats
    dni: Floats
    dhi: Floats
    azimuth: Floats
    elevation: Floats
    aim_azimuth: Floats
    aim_elevation: Floats

    @classmethod
    def of(cls, plans: Sequence[Plan], minutes: int) -> "Weather":
        """The weather of each cook for so long; a day that ends before stays as it was."""
        each = [_day(plan, minutes) for plan in plans]
        return cls(**{f.name: np.array([one[f.name] for one in each]) for f in fields(cls)})


def _day(plan: Plan, minutes: int) -> dict[str, Floats]:
    day, rng = plan.day, np.random.default_rng(plan.weather_seed)
    rows = np.minimum(np.arange(plan.start_min, plan.start_min + minutes), len(day.ghi) - 1)
    wind = _wind(day, rows, rng)
    air = day.ambient_c[rows] + rng.normal(0, 0.8)
    aim_azimuth, aim_elevation = np.zeros(minutes), np.zeros(minutes)
    for aim in plan.aims:
        since = aim.minute - plan.start_min
        aim_azimuth[since:], aim_elevation[since:] = aim.true_azimuth, aim.true_elevation
    return {
        "air_c": air,
        "sky_c": _sky(day, rows, air),
        "wind_ms": wind,
        "ghi": day.ghi[rows],
        "dni": day.dni[rows],
        "dhi": day.dhi[rows],
        "azimuth": day.table.azimuth_deg[rows],
        "elevation": day.table.elevation_deg[rows],
        "aim_azimuth": aim_azimuth,
        "aim_elevation": aim_elevation,
    }


def _wind(day: MeasuredDay, rows: NDArray[np.int64], rng: np.random.Generator) -> Floats:
    """Wind as measured, or gusts round a mean of the day where nobody measured it."""
    if np.ptp(day.wind_ms) > 0:
        return day.wind_ms[rows] * 0.8
    gust, mean = np.zeros(len(rows)), rng.uniform(0.6, 3.0)
    for k in range(1, len(rows)):
        gust[k] = gust[k - 1] * 0.97 + rng.normal(0, 0.24)
    return np.asarray(mean * np.exp(0.36 * gust))


def _sky(day: MeasuredDay, rows: NDArray[np.int64], air_c: Floats) -> Floats:
    """Temperature of the sky: Swinbank's formula of 1963 for a clear one (from memory), nearer to
    that of the air the more of the light is diffuse.
    """
    cloud = np.clip(day.dhi[rows] / np.maximum(day.ghi[rows], 20), 0.1, 1.0)
    clear = 0.0552 * (air_c + 273.15) ** 1.5 - 273.15
    return np.asarray(air_c - (air_c - clear) * (1 - 0.85 * (cloud - 0.1) / 0.9))


class Sunshine:
    """Light on each collector, by the traced tables. Diffuse light is part like the beam and part
    even: Hay and Davies, 1980 (from memory).
    """

    def __init__(
        self, plans: Sequence[Plan], cookers: Cookers, weather: Weather, catch: Catch
    ) -> None:
        self._kinds = np.array([KINDS.index(plan.owner.kind) for plan in plans])
        shine = np.array([plan.owner.mirror * plan.clean for plan in plans])
        self._scale = cookers.scale * shine
        self._albedo = np.array([SNOW if np.min(p.day.ambient_c) < 0 else GRASS for p in plans])
        self._cookers, self._weather, self._catch = cookers, weather, catch

    def heat(self, minute: float, dew_kg_m2: Floats) -> Floats:
        """Light that becomes heat in each part [W], shape (MASSES, cooks)."""
        weather, cooker = self._weather, self._cookers
        ghi, dni, dhi = (_between(x, minute) for x in (weather.ghi, weather.dni, weather.dhi))
        elevation = _between(weather.elevation, minute)
        height = np.radians(elevation)
        right, up, cosine = self._off_axis(minute)
        like_beam = np.clip(dni / SOLAR_WM2, 0, 0.85)
        beam = dni + like_beam * dhi / np.maximum(np.sin(height), 0.12)
        beam = np.where(elevation > 0.5, beam, 0.0)
        sky, ground = self._even(minute)
        light = beam * self._area(right, up, cosine)
        light = light + dhi * (1 - like_beam) * sky + self._albedo * ghi * ground
        light = light * self._scale * (1 - 0.14 * np.minimum(dew_kg_m2 / 0.03, 1.0))
        misaim = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
        to_pot = cooker.to_pot * (1 - 0.35 * np.minimum(misaim / 45, 1))
        to_lid = cooker.to_lid * (0.6 + 0.6 * np.sin(height))
        inside = light * cooker.absorbs
        heat = np.zeros((MASSES, len(light)))
        heat[POT], heat[LID] = inside * to_pot, inside * to_lid
        heat[TRAY] = inside * np.maximum(1 - to_pot - to_lid, 0.03)
        heat[OUTER] = GLASS_ABSORBS * light + 0.03 * cooker.glass_m2 * ghi
        heat[INNER] = np.where(cooker.single > 0, 0.0, GLASS_ABSORBS * light)
        return heat

    def _off_axis(self, minute: float) -> tuple[Floats, Floats, Floats]:
        """Sun from the axis, to the right and up [degrees], and the cosine of the whole angle."""
        weather = self._weather
        height = np.radians(_between(weather.elevation, minute))
        turn = np.radians(_between(weather.azimuth, minute) - weather.aim_azimuth[:, int(minute)])
        tilt = np.radians(weather.aim_elevation[:, int(minute)])
        x = np.cos(height) * np.sin(turn)
        ahead = np.cos(height) * np.cos(turn)
        y = np.sin(height) * np.cos(tilt) - ahead * np.sin(tilt)
        z = ahead * np.cos(tilt) + np.sin(height) * np.sin(tilt)
        front = np.maximum(z, 0.09)
        return np.degrees(np.arctan2(x, front)), np.degrees(np.arctan2(y, front)), z

    def _area(self, right: Floats, up: Floats, cosine: Floats) -> Floats:
        """Area of the beam that gets in [m²], between the nearest entries of the table."""
        last = len(OFF_AXIS_DEG) - 1.001
        x, y = (np.clip((a - OFF_AXIS_DEG[0]) / STEP_DEG, 0, last) for a in (right, up))
        i, j = x.astype(int), y.astype(int)
        p, q, beam, k = x - i, y - j, self._catch.beam, self._kinds
        left = (1 - q) * beam[k, i, j] + q * beam[k, i, j + 1]
        far = (1 - q) * beam[k, i + 1, j] + q * beam[k, i + 1, j + 1]
        return np.where(cosine > 0.09, (1 - p) * left + p * far, 0.0)

    def _even(self, minute: float) -> tuple[Floats, Floats]:
        """Areas for even light of the sky and of the ground [m²]."""
        aim = np.clip(self._weather.aim_elevation[:, int(minute)] / AIM_STEP_DEG, 0, 8.999)
        i, k = aim.astype(int), self._kinds
        p = aim - i
        sky, ground = (
            (1 - p) * t[k, i] + p * t[k, i + 1] for t in (self._catch.sky, self._catch.ground)
        )
        return sky, ground


def _between(values: Floats, minute: float) -> Floats:
    """The column at this minute, between two of them."""
    i = int(minute)
    share = minute - i
    return np.asarray((1 - share) * values[:, i] + share * values[:, i + 1])
