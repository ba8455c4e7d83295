"""What a station would have exported of a cook: noise, steps, lost readings, what was told."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.plans import Plan
from bench.mirror_kitchen.simulation import KEPT_S, Felt
from bench.trial import Trial
from noonpot.core.cook import EventKind
from noonpot.core.header import Header
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row

Floats = NDArray[np.float64]
START_VALUE_C = 85.0
SETTLING_MIN = 5
"""A core is not looked at before the probe has taken the food's temperature."""
GLITCH = 2e-4


@dataclass(frozen=True, slots=True)
class Outage:
    """A probe that says nothing for a while [s from the start]."""

    role: Role
    since_s: float
    until_s: float


def trial(plan: Plan, felt: Felt, number: int) -> Trial:
    """Cook ``number`` of the simulation as a recording, and when its core was done. Half of the
    owners take the food out soon afterwards; who sees it fail gives up after three hours or more.
    """
    rng = np.random.default_rng(plan.probe_seed)
    core = felt.core_c[number] + 0.5 * plan.owner.bias_c[1]
    per_min = 60 // KEPT_S
    first = (plan.load_min + SETTLING_MIN - plan.start_min) * per_min
    last = (plan.lost_min - plan.start_min) * per_min
    hits = np.flatnonzero(core[first:last] >= plan.dish.target_c)
    start_s, load_s, lost_s = (
        plan.day.start_s + 60 * minute for minute in (plan.start_min, plan.load_min, plan.lost_min)
    )
    patience_s, soon_s, takes = 60 * rng.uniform(180, 330), 60 * rng.uniform(5, 35), rng.random()
    if len(hits):
        done_s = start_s + KEPT_S * float(first + hits[0])
        until_s, end_s = done_s, min(done_s + soon_s if takes < 0.5 else lost_s, lost_s)
    else:
        done_s, until_s, end_s = None, min(lost_s, load_s + patience_s), lost_s
    owner = plan.owner
    rows = _events(plan, end_s) + _readings(plan, felt, number, end_s, rng)
    rows.sort(key=lambda row: row.at)
    header = Header(plan.day.place, owner.kind, owner.aperture_told_m2, None)
    return Trial(
        kind=owner.kind,
        food=plan.dish.food,
        wet=plan.dish.wet,
        day=plan.day,
        sensor=owner.light_probe,
        recording=Recording(header, rows),
        target_c=plan.dish.target_c,
        load_s=load_s,
        until_s=until_s,
        lost_s=lost_s,
        done_s=done_s,
    )


def _at(plan: Plan, seconds: float) -> datetime:
    return datetime.fromtimestamp(plan.day.start_s + 60 * plan.start_min + seconds, UTC)


def _events(plan: Plan, end_s: float) -> list[Row]:
    """What the owner told until the end of the recording."""
    told: dict[str, object] = {"food": plan.dish.food, "mass_kg": plan.mass_told_kg}
    told |= {"start_c": plan.start_told_c, "target_c": plan.dish.target_c}
    load = {key: str(value) for key, value in told.items() if value is not None}
    events = [(plan.load_min, EventKind.LOAD, load)]
    events += [(lid.minute, EventKind.LID, {}) for lid in plan.lids if lid.told]
    for turn in plan.aims:
        aim = {"azimuth": str(turn.azimuth), "elevation": str(turn.elevation)}
        events.append((turn.minute, EventKind.AIM, aim))
    rows = [Row(_at(plan, 60 * (m - plan.start_min)), {}, kind, text) for m, kind, text in events]
    rows = [row for row in rows if row.at.timestamp() <= end_s]
    if end_s < plan.day.start_s + 60 * plan.lost_min:
        rows.append(Row(datetime.fromtimestamp(end_s, UTC), {}, EventKind.UNLOAD))
    return rows


def _readings(
    plan: Plan, felt: Felt, number: int, end_s: float, rng: np.random.Generator
) -> list[Row]:
    """A row each time the probes are read."""
    owner, start_s = plan.owner, plan.day.start_s + 60 * plan.start_min
    last_s = min(end_s - start_s, KEPT_S * (felt.pot_c.shape[1] - 1))
    times = np.arange(0, int(last_s) + 1, owner.every_s)
    seen = times // KEPT_S
    hung = np.ones(len(times), bool)
    inside = times >= 60 * (plan.load_min - plan.start_min)
    fitted = {
        Role.POT: (felt.pot_c[number, seen] + owner.bias_c[0], hung),
        Role.CORE: (felt.core_c[number, seen] + 0.5 * owner.bias_c[1], inside | owner.waits),
        Role.AMBIENT: (felt.air_c[number, seen] + owner.bias_c[2], hung & owner.air_probe),
    }
    outage = _outage(rng, last_s) if owner.dropout else None
    columns = {}
    for role, (true, here) in fitted.items():
        value = _glitched(true + rng.normal(0, owner.noise_c, len(times)), plan, rng)
        value = np.round(value / owner.step_c) * owner.step_c
        lost = rng.random(len(times)) < owner.dropout
        if outage is not None and outage.role is role:
            lost |= (outage.since_s <= times) & (times < outage.until_s)
        columns[role] = np.where(here & ~lost, value, np.nan)
    if owner.light_probe:
        minute = plan.start_min + times / 60
        light = np.interp(minute, np.arange(len(plan.day.ghi)), plan.day.ghi)
        light = owner.light_gain * light + rng.normal(0, 2, len(times))
        columns[Role.IRRADIANCE] = np.maximum(np.round(light), 0)
    return _rows(plan, times.tolist(), columns)


def _outage(rng: np.random.Generator, last_s: float) -> Outage | None:
    """One probe that is gone for minutes, in some of the cooks."""
    if rng.random() >= 0.4:
        return None
    since_s = rng.uniform(0, last_s)
    role = (Role.POT, Role.CORE, Role.AMBIENT)[int(rng.integers(3))]
    return Outage(role, since_s, since_s + rng.uniform(180, 900))


def _glitched(value: Floats, plan: Plan, rng: np.random.Generator) -> Floats:
    """Rare nonsense where the wiring is poor: the start value of digital probes, or a leap."""
    if not plan.owner.dropout:
        return value
    digital = plan.owner.step_c == 0.0625
    wrong = START_VALUE_C if digital else value + rng.choice([-12, 15], len(value))
    return np.where(rng.random(len(value)) < GLITCH, wrong, value)


def _rows(plan: Plan, times: Sequence[int], columns: dict[Role, Floats]) -> list[Row]:
    rows = []
    for i, seconds in enumerate(times):
        values = {role: float(column[i]) for role, column in columns.items()}
        heard = {role: value for role, value in values.items() if np.isfinite(value)}
        if heard:
            rows.append(Row(_at(plan, seconds), heard))
    return rows
