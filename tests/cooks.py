"""Recordings of cooks that never were: known cooker and food under a school sun."""

from datetime import datetime, timedelta

import numpy as np

from noonpot.core import cooker, light, load
from noonpot.core.cook import Event, EventKind
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecaster
from noonpot.core.header import Header
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.sun import DayTable
from noonpot.core.water import boiling_point_c
from skies import EQUATOR, geometric_table, hour

FOODS = {"bread": Food("bread", 90.0), "stew": Food("stew", 85.0, wet=True)}
TABLES: list[DayTable] = [geometric_table()]
KETTLE = np.append(np.log([0.13, 1 / 2200, 1 / 3000, 4000.0, 5000.0, 30.0, 0.5]), 0.2)
MAKE = {
    "bread": np.append(np.log([1 / 1100, 1 / 1800, 1.2, 2e-4, 1.2]), 0.03),
    "stew": np.append(np.log([1 / 1500, 1 / 150, 0.03, 5e-4, 0.05]), 0.1),
}
AIR_C = 22.0


def recorded(  # noqa: PLR0913  most of it can be left out
    food: str = "bread",
    *,
    mass_kg: float = 0.8,
    index: float = 1.0,
    start_h: float = 7.5,
    load_h: float = 9.0,
    end_h: float = 17.0,
    cloud_h: tuple[float, float] = (0.0, 0.0),
    turned_until_h: float = 24.0,
    sensor: bool = True,
    seed: int = 1,
) -> Recording:
    """A day of that cooker, turned to the sun every half hour, a row a minute with some noise.

    From the first to the second hour of ``cloud_h`` the sky gives a quarter less than else.
    """
    rng = np.random.default_rng(seed)
    kettle = cooker.Cooker.of(KETTLE[None, :])
    wet = FOODS[food].wet
    what = load.FoodConstants.of((MAKE[food] + load.by_mass(mass_kg, wet))[None, :])
    minutes = int((end_h - start_h) * 60)
    times = np.array([(hour(start_h) + timedelta(minutes=i)).timestamp() for i in range(minutes)])
    sky = light.clear_sky(TABLES, (), times)
    cloudy = (times >= hour(cloud_h[0]).timestamp()) & (times < hour(cloud_h[1]).timestamp())
    indices = index * np.where(cloudy, 0.75, 1.0)
    turns = [i for i in range(0, minutes, 30) if start_h + i / 60 <= turned_until_h]
    rows = [
        Row(
            hour(start_h) + timedelta(minutes=i),
            {},
            EventKind.AIM,
            {"azimuth": f"{sky.azimuth_deg[i]:.1f}", "elevation": f"{sky.elevation_deg[i]:.1f}"},
        )
        for i in turns
    ]
    detail = {"food": food, "mass_kg": f"{mass_kg}", "start_c": "24.0"}
    rows.append(Row(hour(load_h), {}, EventKind.LOAD, detail))
    aims = [(times[i], sky.azimuth_deg[i], sky.elevation_deg[i]) for i in turns]
    useful = light.on_aperture(
        indices,
        sky,
        light.misaim(aims, times, sky),
        kettle.acceptance,
        kettle.diffuse,
    )
    pot = wall = np.array([AIR_C])
    stages, flow = load.start(np.array([24.0])), np.zeros(1)
    share = load.heat_j_per_k(mass_kg, wet) / kettle.capacity
    for i in range(minutes):
        at = hour(start_h) + timedelta(minutes=i)
        values = {Role.POT: float(pot[0]) + rng.normal(0, 0.2), Role.AMBIENT: AIR_C}
        if sensor:
            values[Role.IRRADIANCE] = float(indices[i] * sky.ghi[i])
        if at >= hour(load_h):
            values[Role.CORE] = float(stages[-1, 0]) + rng.normal(0, 0.05)
            surround = AIR_C + (1 + what.drive) * (pot - AIR_C)
            boiling_c = boiling_point_c(EQUATOR.elevation_m)
            stages, taken = load.step(stages, what, surround, boiling_c, 60.0)
            flow = taken / 60.0
        rows.append(Row(at, values))
        no = np.zeros(1)
        pot, wall = cooker.step(
            kettle, pot, wall, useful[i : i + 1], AIR_C, -share * flow, no, 60.0
        )
    return Recording(Header(EQUATOR, "box", 0.25, 30.0), sorted(rows, key=lambda r: r.at))


def hear(
    caster: Forecaster, recording: Recording, now: datetime, without: tuple[Role, ...] = ()
) -> None:
    """Let a forecaster hear a recording up to a time, but for the probes left out."""
    for row in recording.rows:
        if row.at > now:
            return
        if row.event is not None:
            caster.event(Event("box", row.at, row.event, row.detail))
            continue
        values = [None if r in without else row.values.get(r) for r in Role]
        pot, core, ambient, irradiance = values
        caster.observe(row.at, pot, core, ambient, irradiance)


def done_at(recording: Recording, target_c: float = 90.0) -> datetime:
    """When the core of a recording first shows the target."""
    return next(r.at for r in recording.rows if r.values.get(Role.CORE, 0.0) >= target_c)
