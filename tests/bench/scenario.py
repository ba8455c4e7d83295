"""Which cooks the bench simulates: four cookers, two foods, all measured days, several habits."""

from collections.abc import Sequence

import numpy as np

from bench.kitchen import MAKES, Cooked, Make, Plan, simulate
from bench.measured import MeasuredDay

LOST_DEG = 5.0


def _boiling_c(elevation_m: float) -> float:
    """Boiling point, -3.3 K a kilometre (from the steam tables, straightened)."""
    return 99.97 - 3.33e-3 * elevation_m


def _sun_minutes(day: MeasuredDay) -> tuple[int, int]:
    up = np.flatnonzero(day.table.elevation_deg > LOST_DEG)
    return int(up[0]), int(up[-1])


def _aims(
    day: MeasuredDay, start: int, end: int, rng: np.random.Generator
) -> tuple[tuple[int, float, float], ...]:
    """How the person aims: diligent, now and then, or once ahead and away."""
    table = day.table
    habit = rng.choice(["diligent", "sometimes", "away"], p=[0.5, 0.35, 0.15])
    step = {"diligent": 35, "sometimes": 90, "away": 10_000}[str(habit)]
    aims, minute = [], start
    while minute < end - 20:
        ahead = {"diligent": 0, "sometimes": int(rng.integers(0, 45)), "away": 120}[str(habit)]
        look = min(minute + ahead, end - 1)
        elevation = max(table.elevation_deg[look], 8.0)
        aims.append(
            (
                minute,
                round(float(table.azimuth_deg[look]) + rng.normal(0, 2), 1),
                round(float(elevation) + rng.normal(0, 2), 1),
            )
        )
        minute += int(step * np.exp(rng.normal(0, 0.3)))
    return tuple(aims)


def plan(make: Make, day: MeasuredDay, food: str, sensor: bool, seed: int) -> Plan:
    """One cook with everything about it drawn from its seed."""
    rng = np.random.default_rng(seed)
    first, last = _sun_minutes(day)
    span = last - first
    start = first + int(span * rng.uniform(0.12, 0.35))
    load = start + int(rng.uniform(20, 110))
    mass = float(rng.choice([0.5, 0.7, 0.9]) if food == "bread" else rng.choice([0.7, 1.0, 1.5]))
    if make.name in ("iron", "chest"):
        mass *= 1.4
    boiling = _boiling_c(day.place.elevation_m) + rng.normal(0, 0.4)
    target = float(rng.choice([88, 90, 93]) if food == "bread" else rng.choice([74, 85, 90]))
    target = min(target, round(boiling - 3))
    lids = tuple(int(load + x) for x in rng.uniform(15, 150, rng.integers(0, 3)))
    return Plan(
        make,
        day,
        food,
        round(mass, 2),
        round(float(rng.uniform(12, 30)), 1),
        target,
        start,
        load,
        last,
        _aims(day, start, last, rng),
        lids,
        sensor,
        bool(rng.random() < 0.75),
        seed,
        boiling,
    )


def cooks(days: Sequence[MeasuredDay]) -> list[Cooked]:
    """Every cooker on every day with both foods: some are asked, others are history."""
    plans = []
    for c, make in enumerate(MAKES):
        for d, day in enumerate(days):
            for f, food in enumerate(("bread", "stew")):
                plans.append(plan(make, day, food, (c + d) % 2 == 0, 1000 * c + 10 * d + f))
    return simulate(plans)
