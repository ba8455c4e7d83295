"""One cook as its owner goes about it: when to heat up, load, turn, lift the lid, and what is told.

Minutes count from the start of the day's arrays, angles are in degrees.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.measured import MeasuredDay
from bench.mirror_kitchen.cookers import Owner
from bench.mirror_kitchen.dishes import Dish, dish
from bench.mirror_kitchen.water import air_pa, boiling_c

Floats = NDArray[np.float64]
LOST_DEG = 5.0
LOADING_MIN = {
    "payerne-06": (-190, 80),
    "payerne-10": (-310, 10),
    "tucson": (-200, 60),
    "alamosa": (-185, 10),
}
"""When one may load around noon and still be done; on the other days one loads in hope."""
HOPE_MIN = (-260, 110)
TURN_MIN = {"often": (20, 60), "rare": (80, 170), "away": (60, 110)}
TILTS_DEG = {"panel": (15, 62), "tin": (22, 80), "iron": (20, 80), "deep": (8, 85)}
"""How far each kind can be tilted."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Where the owner says the cooker points from this minute on, and where it does."""

    minute: int
    azimuth: float
    elevation: float
    true_azimuth: float
    true_elevation: float


@dataclass(frozen=True, slots=True)
class Lid:
    """An opening, told to the station or not."""

    minute: int
    seconds: float
    told: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """One cook with everything about it. ``mass_told_kg`` and ``start_told_c`` are None where the
    owner says nothing; ``clean`` is what dust leaves of the light.
    """

    owner: Owner
    day: MeasuredDay
    dish: Dish
    pressure_pa: float
    start_min: int
    load_min: int
    lost_min: int
    aims: tuple[Turn, ...]
    lids: tuple[Lid, ...]
    dew_kg_m2: float
    clean: float
    mass_told_kg: float | None
    start_told_c: float | None
    weather_seed: int
    probe_seed: int

    @property
    def boiling_c(self) -> float:
        """Where water boils in this weather [°C]."""
        return boiling_c(self.pressure_pa)


def plan(rng: np.random.Generator, owner: Owner, day: MeasuredDay, *, wet: bool) -> Plan:
    """One cook of this owner on this day."""
    sun = day.table.elevation_deg
    up = np.flatnonzero(sun > LOST_DEG)
    lost = int(up[-1]) + 1
    pressure = air_pa(day.place.elevation_m) + rng.uniform(-1000, 1400)
    food = dish(rng, wet=wet, boiling=boiling_c(pressure), kind=owner.kind)
    load = int(np.argmax(sun)) + int(rng.integers(*LOADING_MIN.get(day.name, HOPE_MIN)))
    cold = rng.random() < (0.55 if wet else 0.12)
    heating = 0 if cold else int(rng.integers(15, 100 if owner.kind == "iron" else 80))
    start = max(load - heating, int(up[0]) + 15)
    tells_mass, tells_start = rng.random() > 0.07, rng.random() > 0.15
    return Plan(
        owner=owner,
        day=day,
        dish=food,
        pressure_pa=pressure,
        start_min=start,
        load_min=load,
        lost_min=lost,
        aims=_turns(rng, owner, day, start, load, lost),
        lids=_lids(rng, load, lost),
        dew_kg_m2=float(rng.choice([0, 0, 0.02, 0.05])),
        clean=rng.uniform(0.9, 1.0),
        mass_told_kg=round(food.mass_kg * np.exp(rng.normal(0, 0.03)), 2) if tells_mass else None,
        start_told_c=round(food.constants["start_c"] + rng.normal(0, 1)) if tells_start else None,
        weather_seed=int(rng.integers(1 << 31)),
        probe_seed=int(rng.integers(1 << 31)),
    )


def _turns(
    rng: np.random.Generator, owner: Owner, day: MeasuredDay, start: int, load: int, lost: int
) -> tuple[Turn, ...]:
    """Every turning: aimed by eye, and told in round numbers."""
    low, high = TILTS_DEG[owner.kind]
    turns = []
    for minute, ahead in _times(rng, owner, start, load, lost):
        azimuth = float(day.table.azimuth_deg[ahead])
        elevation = float(np.clip(day.table.elevation_deg[ahead], low, high))
        aside, above = rng.normal(0, 2.2, 2) + owner.aim_bias_deg
        told = round(azimuth * 2) / 2 if rng.random() < 0.5 else round(azimuth)
        true = azimuth + aside / max(np.cos(np.radians(elevation)), 0.35)
        turns.append(Turn(minute, told, round(elevation), true, elevation + above))
    return tuple(turns)


def _times(
    rng: np.random.Generator, owner: Owner, start: int, load: int, lost: int
) -> list[tuple[int, int]]:
    """Minutes of turning, each with the minute whose sun is aimed at: now, or some way ahead."""
    habit = owner.habit
    if habit == "mixed":
        habit = str(rng.choice(["often", "rare", "away"]))
    elif habit == "often" and rng.random() < 0.12:
        habit = "away"
    gap = rng.uniform(*TURN_MIN[habit])
    foresees, away = rng.random() < 0.4, habit == "away"
    times, at = [], float(start)
    while at < lost - 5:
        now = int(at)
        if away and at >= load:  # once, for hours, perhaps for the rest of the day
            absence = int(rng.uniform(150, 260))
            times.append((now, min(now + absence // 2, lost - 10)))
            at += absence if rng.random() < 0.5 else 600
            gap, away = rng.uniform(30, 70), False
            continue
        times.append((now, min(now + (int(gap / 2) if foresees else 0), lost - 1)))
        at = max(at + gap * np.exp(rng.normal(0, 0.25)), at + 8)
        if start == now < load < at:  # who loads usually turns too
            at = float(load)
    return times


def _lids(rng: np.random.Generator, load: int, lost: int) -> tuple[Lid, ...]:
    """Loading, which is told as such, and looks into the pot."""
    lids = [Lid(load, rng.uniform(40, 90), told=False)]
    for _ in range(rng.poisson(0.6)):
        minute, seconds = int(load + rng.uniform(25, 170)), rng.uniform(30, 140)
        lids.append(Lid(minute, seconds, told=bool(rng.random() < 0.6)))
    return tuple(lid for lid in lids if lid.minute < lost)
