"""Which cooks of the lumped kitchen are asked about: four cookers, two foods, all measured days,
several habits.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from bench.kitchen import MAKES, Cooked, Make, Plan, simulate
from bench.measured import MeasuredDay
from bench.trial import Exam, Trial
from noonpot.core.cook import EventKind
from noonpot.core.header import Header
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row

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


def exams(days: Sequence[MeasuredDay]) -> list[Exam]:
    """On clear days every cook is asked about, on others every second that ends well and every
    fourth that does not; learned from are some other days of the same cooker, or none.
    """
    everything = cooks(days)
    trials = [trial(cooked) for cooked in everything]
    chosen = []
    for i, cooked in enumerate(everything):
        plan = cooked.plan
        dull = cooked.done_min is None
        if not plan.day.clear and (i // 2 + i) % (4 if dull else 2):
            continue
        rng = np.random.default_rng(plan.seed)
        plans = enumerate(c.plan for c in everything)
        others = [k for k, p in plans if p.make is plan.make and p.day is not plan.day]
        same = [k for k in others if everything[k].plan.food == plan.food]
        count = int(rng.choice([0, 2, 3, 4], p=[0.15, 0.25, 0.35, 0.25]))
        past = list(rng.choice(same, min(count, 2), replace=False))
        past += list(rng.choice(others, max(count - 2, 0), replace=False))
        past.sort(key=lambda k: everything[k].plan.day.start_s)
        chosen.append(Exam(trials[i], tuple(trials[k] for k in past)))
    return chosen


def trial(cooked: Cooked) -> Trial:
    """A cook as an exported recording."""
    plan = cooked.plan
    done = cooked.done_min
    last_s = plan.day.start_s + 60 * plan.end_min
    done_s = None if done is None else plan.day.start_s + 60 * done
    return Trial(
        kind=plan.make.name,
        food=plan.food,
        wet=plan.food == "stew",
        day=plan.day,
        sensor=plan.sensor,
        recording=_recording(cooked),
        target_c=plan.target_c,
        load_s=plan.day.start_s + 60 * plan.load_min,
        until_s=last_s if done_s is None else done_s,
        lost_s=last_s,
        done_s=done_s,
    )


def _recording(cooked: Cooked) -> Recording:
    plan = cooked.plan
    rows: list[Row] = []
    begin = datetime.fromtimestamp(plan.day.start_s, UTC)

    def at(minute: int) -> datetime:
        return begin + timedelta(minutes=minute)

    for minute, azimuth, elevation in plan.aims:
        aim = {"azimuth": f"{azimuth}", "elevation": f"{elevation}"}
        rows.append(Row(at(minute), {}, EventKind.AIM, aim))
    rows += [Row(at(minute), {}, EventKind.LID, {}) for minute in plan.lids]
    load = {
        "food": plan.food,
        "mass_kg": f"{plan.mass_kg}",
        "start_c": f"{plan.start_c}",
        "target_c": f"{plan.target_c}",
    }
    rows.append(Row(at(plan.load_min), {}, EventKind.LOAD, load))
    columns = {
        Role.POT: cooked.pot_c,
        Role.CORE: cooked.core_c,
        Role.AMBIENT: cooked.ambient_c,
        Role.IRRADIANCE: cooked.irradiance,
    }
    for i in range(len(cooked.pot_c)):
        values = {role: float(c[i]) for role, c in columns.items() if np.isfinite(c[i])}
        if values:
            rows.append(Row(at(plan.start_min + i), values))
    rows.sort(key=lambda r: r.at)
    header = Header(plan.day.place, plan.make.name, None, plan.make.acceptance_said)
    return Recording(header, rows)
