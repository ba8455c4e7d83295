"""Cookers of known build under measured skies, with the probes of a home: what a rating is held to.

The build is drawn at random from what home-made cookers are like. The heat is that of the simulated
garden, box and pot and air by themselves; the rating knows nothing of it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from bench.measured import MeasuredDay
from noonpot.core.cook import EventKind
from noonpot.core.header import Header
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.sun import angle_between, light_share
from noonpot.core.water import boiling_point_c, standard_pressure_pa
from noonpot_hw.cooker_physics import AIR_J_K, BOX_TO_WALL_W_K, Cooker, Kind, Outside
from noonpot_hw.food_physics import DenseLoad, Load, Steam, WetLoad
from noonpot_hw.materials import material_of

Floats = NDArray[np.float64]

STEP_S = 5.0
SKY_VIEW = 0.8
WIND_MS, AIR_C, SUN_WM2 = 1.5, 25.0, 900.0


@dataclass(frozen=True, slots=True)
class Build:
    """A cooker as built."""

    kind: Kind
    aperture_m2: float
    pot_j_k: float
    acceptance_deg: float

    def truth(self) -> dict[str, float]:
        """What a profile should find. Losses are counted for each kelvin of the pot, since that is
        where the probe hangs; the box around it is cooler.
        """
        held = self.kind.capacity * self.aperture_m2 + self.pot_j_k + AIR_J_K
        half = _light_for(self, 50.0)
        hottest = float(np.interp(SUN_WM2, *_stagnations(self)))
        return {
            "optical_gain": self.kind.efficiency,
            "loss_wm2k": self.kind.efficiency * half / 50.0,
            "heat_capacity_j_k": held,
            "acceptance_deg": self.acceptance_deg,
            "stagnation_c": AIR_C + hottest,
        }


def _stagnations(build: Build) -> tuple[Floats, Floats]:
    """Light [W/m²], and how far the empty pot then comes above the air [K]."""
    kind = build.kind
    box = np.linspace(0.0, 250.0, 2501)
    lost = kind.loss * (1 + kind.loss_wind * WIND_MS) * (1 + kind.loss_warmth * box) * box
    heat = lost * build.aperture_m2
    return lost / kind.efficiency, box + kind.on_pot * heat / BOX_TO_WALL_W_K


def _light_for(build: Build, excess_k: float) -> float:
    light, excess = _stagnations(build)
    return float(np.interp(excess_k, excess, light))


def build(rng: np.random.Generator) -> Build:
    """A cooker between a poor panel and a good box."""
    kind = Kind(
        efficiency=rng.uniform(0.35, 0.60),
        on_pot=rng.uniform(0.2, 0.6),
        loss=rng.uniform(3.5, 7.0),
        loss_wind=rng.uniform(0.03, 0.10),
        loss_warmth=rng.uniform(0.0005, 0.003),
        capacity=rng.uniform(6e3, 20e3),
    )
    return Build(kind, rng.uniform(0.2, 0.45), rng.uniform(400, 2000), rng.uniform(18, 40))


@dataclass(frozen=True, slots=True)
class Cooking:
    """One cook: hours are before and after true noon; ``turn_min`` is how often it is turned;
    ``start_c`` is the food's temperature, None for that of the air [°C].
    """

    day: MeasuredDay
    food: str
    mass_kg: float
    start_h: float = -3.0
    load_h: float = -2.0
    end_h: float = 4.0
    turn_min: int = 30
    start_c: float | None = None


def cookings(rng: np.random.Generator, made: Build, days: Sequence[MeasuredDay]) -> list[Cooking]:
    """Six ordinary cooks of one owner: clear days and others, some with nobody there to turn."""
    clear = [d for d in days if d.clear and d.name != "alamosa"]
    others = [
        d for d in days if not d.clear and d.name[-2:] in ("01", "04", "05", "07", "09", "15")
    ]
    chosen = [*rng.permutation(len(clear))[:3], *(len(clear) + rng.permutation(len(others))[:3])]
    every = [*clear, *others]
    found = []
    for number, which in enumerate(chosen):
        food = "water" if number == 0 else str(rng.choice(["soup", "stew", "bread", "water"]))
        scale = 2.5 if food == "bread" else 7.0 * rng.uniform(0.5, 1.1)
        found.append(
            Cooking(
                every[int(which)],
                food,
                round(float(scale * made.aperture_m2), 2),
                start_h=float(rng.uniform(-4.0, -3.0)),
                load_h=float(rng.uniform(-2.5, -1.5)),
                turn_min=int(rng.choice([20, 30, 45, 200], p=[0.3, 0.3, 0.2, 0.2])),
            )
        )
    return found


def dedicated(made: Build, days: Sequence[MeasuredDay]) -> list[Cooking]:
    """The test by the book: 7 kg/m² of water, cold box, turned every 10 min, on clear days."""
    clear = [d for d in days if d.clear and d.name != "alamosa"]
    mass = 7.0 * made.aperture_m2
    return [Cooking(d, "water", mass, -2.0, -2.0, 2.5, 10) for d in clear[:4]]


@dataclass(frozen=True, slots=True, eq=False)
class Lived:
    """What truly was, a row a minute, and where the cooker pointed."""

    times_s: Floats
    pot_c: Floats
    core_c: Floats
    ambient_c: Floats
    across_wm2: Floats
    ghi: Floats
    aims: tuple[tuple[int, float, float], ...]
    load_row: int


def live(made: Build, cooking: Cooking, today: tuple[float, float] = (1.0, 1.0)) -> Lived:
    """Live through a cook; ``today`` are gain and loss of the day, of 1."""
    day, table = cooking.day, cooking.day.table
    noon = int(np.argmax(table.elevation_deg))
    first, load, last = (
        noon + round(60 * h) for h in (cooking.start_h, cooking.load_h, cooking.end_h)
    )
    kind = made.kind._replace(
        efficiency=made.kind.efficiency * today[0], loss=made.kind.loss * today[1]
    )
    air_c = float(day.ambient_c[first])
    pot = Cooker(kind, made.aperture_m2, made.pot_j_k, air_c, air_c, air_c)
    aims: list[tuple[int, float, float]] = []
    rows = []
    for minute in range(first, last):
        azimuth, elevation = float(table.azimuth_deg[minute]), float(table.elevation_deg[minute])
        if (minute - first) % cooking.turn_min == 0 or minute == load:
            aims.append((minute, round(azimuth, 1), round(elevation, 1)))
        off = angle_between(*aims[-1][1:], azimuth, elevation)
        if minute == load:
            food_c = air_c if cooking.start_c is None else cooking.start_c
            pot.load = _load(cooking, food_c, day.place.elevation_m)
        light = float(day.dni[minute]) * light_share(off, made.acceptance_deg)
        outside = Outside(
            light + SKY_VIEW * float(day.dhi[minute]),
            float(day.ambient_c[minute]),
            float(day.wind_ms[minute]),
        )
        rows.append((pot.air_c, pot.core_c))
        for _ in range(int(60 / STEP_S)):
            pot.step(outside, STEP_S)
    part = slice(first, last)
    pots, cores = np.array(rows).T
    sine = np.sin(np.radians(table.elevation_deg[part]))
    across = day.dni[part] + day.dhi[part] * (1 + sine) / 2 + 0.2 * day.ghi[part] * (1 - sine) / 2
    times = np.asarray(day.start_s + 60.0 * np.arange(first, last), np.float64)
    return Lived(
        times, pots, cores, day.ambient_c[part], across, day.ghi[part], tuple(aims), load - first
    )


def _load(cooking: Cooking, start_c: float, elevation_m: float) -> Load:
    material, boiling = material_of(cooking.food), boiling_point_c(elevation_m)
    if material.dense:
        return DenseLoad(material, cooking.mass_kg, start_c, boiling)
    steam = Steam(boiling, standard_pressure_pa(elevation_m))
    return WetLoad(material, cooking.mass_kg, start_c, steam)


def recorded(made: Build, cooking: Cooking, rng: np.random.Generator, *, sensor: bool) -> Recording:
    """The same as a station would have written it: probes with noise and errors of their own."""
    lived = live(
        made, cooking, (float(np.exp(rng.normal(0, 0.03))), float(np.exp(rng.normal(0, 0.05))))
    )
    n = len(lived.times_s)
    seen = {
        Role.POT: lived.pot_c + rng.normal(0, 0.5) + rng.normal(0, 0.25, n),
        Role.CORE: lived.core_c + rng.normal(0, 0.3) + rng.normal(0, 0.06, n),
        Role.AMBIENT: lived.ambient_c + rng.normal(0.3, 0.4) + rng.normal(0, 0.1, n),
    }
    if sensor:
        seen[Role.IRRADIANCE] = lived.ghi * np.exp(rng.normal(0, 0.03)) + rng.normal(0, 3, n)
    rows = list(_events(cooking, lived, rng))
    for i, at_s in enumerate(lived.times_s):
        values = {r: round(float(c[i]), 3) for r, c in seen.items()}
        if i < lived.load_row:
            del values[Role.CORE]
        rows.append(Row(_at(float(at_s)), values))
    header = Header(cooking.day.place, "cooker", round(made.aperture_m2, 3), 30.0)
    return Recording(header, sorted(rows, key=lambda row: row.at))


def _events(cooking: Cooking, lived: Lived, rng: np.random.Generator) -> Iterator[Row]:
    for minute, azimuth, elevation in lived.aims:
        told = {
            "azimuth": f"{azimuth + rng.normal(0, 2):.0f}",
            "elevation": f"{elevation + rng.normal(0, 2):.0f}",
        }
        yield Row(_at(cooking.day.start_s + 60 * minute), {}, EventKind.AIM, told)
    detail = {"food": cooking.food, "mass_kg": f"{cooking.mass_kg}"}
    yield Row(_at(float(lived.times_s[lived.load_row])), {}, EventKind.LOAD, detail)


def _at(at_s: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=at_s)


def rated_by_the_book(made: Build, days: Sequence[MeasuredDay]) -> float:
    """What the simulator's own dedicated test gives at 50 K [W]: true temperatures, true light,
    ten-minute intervals from 5 K above the air to 5 K below boiling, a line of least squares.
    """
    points = []
    for cooking in dedicated(made, days):
        lived = live(made, cooking)
        boiling = boiling_point_c(cooking.day.place.elevation_m)
        for i in range(lived.load_row, len(lived.times_s) - 10, 10):
            begin, end, air = (
                lived.core_c[i],
                lived.core_c[i + 10],
                lived.ambient_c[i : i + 10].mean(),
            )
            if begin < air + 5 or end > boiling - 5:
                continue
            power = (end - begin) * cooking.mass_kg * 4186 / 600
            points.append(
                ((begin + end) / 2 - air, power * 700 / lived.across_wm2[i : i + 10].mean())
            )
    x, y = np.array(points).T
    slope, level = np.polyfit(x, y, 1)
    return float(level + 50 * slope)


def rebuilt(made: Build, rng: np.random.Generator) -> Build:
    """The same cooker with better insulation."""
    return replace(made, kind=made.kind._replace(loss=made.kind.loss * rng.uniform(0.6, 0.75)))
