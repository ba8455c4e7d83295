"""All cooks of the mirror kitchen at once, step by step, and what their probes feel."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.collectors import Catch
from bench.mirror_kitchen.cookers import Cookers
from bench.mirror_kitchen.dishes import Dishes
from bench.mirror_kitchen.food import Food
from bench.mirror_kitchen.oven import (
    AIR,
    INNER,
    LID,
    MASSES,
    OUTSIDE,
    POT,
    SKY,
    STEAM,
    STEP_S,
    flows,
    links,
    warm,
)
from bench.mirror_kitchen.plans import Plan
from bench.mirror_kitchen.steam import Vapour, pass_on, still
from bench.mirror_kitchen.sunshine import Sunshine, Weather

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
KEPT_S = 10
SUN_S = 30
AIR_LAG_S = 120.0
SHINE_K = 0.003
"""How much the sun warms the probe for the air [K for each W/m²] (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Felt:
    """Probes without noise [°C], a column each ``KEPT_S`` from the start, shape (cooks, times)."""

    pot_c: Floats
    core_c: Floats
    air_c: Floats


class Probes:
    """Probes that follow what they touch with a lag."""

    def __init__(self, plans: Sequence[Plan], start_c: Floats) -> None:
        def of(name: str) -> Floats:
            return np.array([float(getattr(plan.owner, name)) for plan in plans])

        self._wall, self._lid, self._waits = of("wall_share"), of("lid_share"), of("waits") > 0
        self._pot_lag_s, self._core_lag_s = of("pot_lag_s"), of("core_lag_s")
        self.pot, self.core, self.air = start_c.copy(), start_c.copy(), start_c.copy()

    def follow(self, temp: Floats, food: Food, loaded: Floats, sunlit_c: Floats) -> None:
        """One step."""
        tip = food.at_probe()
        tip = tip + food.dishes.stem * (temp[STEAM] - tip)
        idle = np.where(self._waits, temp[STEAM], temp[OUTSIDE])
        touched = np.where(loaded > 0, tip, idle)
        mixed = self._wall * temp[POT] + self._lid * temp[LID]
        mixed = mixed + (1 - self._wall - self._lid) * temp[STEAM]
        self.core = self.core + STEP_S / self._core_lag_s * (touched - self.core)
        self.pot = self.pot + STEP_S / self._pot_lag_s * (mixed - self.pot)
        self.air = self.air + STEP_S / AIR_LAG_S * (sunlit_c - self.air)


def simulate(plans: Sequence[Plan], catch: Catch) -> Felt:
    """Cook all plans side by side, until the sun of each is lost and as long as the longest."""
    minutes = max(plan.lost_min - plan.start_min for plan in plans)
    weather = Weather.of(plans, minutes + 1)
    cookers = Cookers.of([plan.owner.parts for plan in plans])
    pressure = np.array([plan.pressure_pa for plan in plans])
    food = Food(
        Dishes.of([plan.dish for plan in plans]), pressure, np.array([p.boiling_c for p in plans])
    )
    sunshine = Sunshine(plans, cookers, weather, catch)
    steps = int(minutes * 60 / STEP_S)
    opened = _opened(plans, steps)
    load_min = np.array([plan.load_min - plan.start_min for plan in plans])
    start_c = weather.air_c[:, 0]
    temp = np.repeat(start_c[None, :], MASSES + 2, axis=0)
    probes = Probes(plans, start_c)
    vapour = still(np.array([plan.dew_kg_m2 for plan in plans]))
    felt: list[Floats] = []
    before = np.zeros(len(plans))
    for step in range(steps):
        minute = step * STEP_S / 60
        loaded = (minute >= load_min).astype(float)
        if step % int(SUN_S / STEP_S) == 0:
            light = sunshine.heat(minute, vapour.dew_kg_m2)
            temp[OUTSIDE], temp[SKY] = (x[:, int(minute)] for x in (weather.air_c, weather.sky_c))
        now = loaded > before
        if now.any():
            _load(temp, vapour, now)
        before = loaded
        contact = food.contact(temp, loaded)
        wet = food.wet(temp, loaded)
        ways = links(cookers, temp, weather.wind_ms[:, int(minute)], opened[:, step])
        passed = pass_on(vapour, cookers, wet, temp, pressure, opened[:, step])
        heat = flows(ways, temp) + light
        heat[INNER] += passed.glass_w
        heat[AIR] += passed.box_w
        heat[POT] -= contact.bottom.sum(1) + contact.side.sum(1)
        heat[LID] += passed.lid_w - contact.lid_top.sum(1)
        heat[STEAM] -= contact.steam_top.sum(1) + contact.steam_side.sum(1)
        vapour.boiled_kg_s = food.take(contact, passed, temp[LID], loaded)
        warm(cookers, temp, heat)
        sunlit = temp[OUTSIDE] + SHINE_K * weather.ghi[:, int(minute)]
        probes.follow(temp, food, loaded, sunlit)
        if step % int(KEPT_S / STEP_S) == 0:
            felt.append(np.array([probes.pot, probes.core, probes.air]))
    pot, core, air = np.array(felt).transpose(1, 2, 0)
    return Felt(pot, core, air)


def _load(temp: Floats, vapour: Vapour, now: Flags) -> None:
    """The open pot loses its warm air, the lid in the hand a little of its heat."""
    temp[STEAM, now] = 0.6 * temp[STEAM, now] + 0.4 * temp[OUTSIDE, now]
    temp[LID, now] -= 0.15 * (temp[LID, now] - temp[OUTSIDE, now])
    vapour.pot_pa[now] = 1500.0


def _opened(plans: Sequence[Plan], steps: int) -> Flags:
    """When each cooker stands open, shape (cooks, steps)."""
    opened = np.zeros((len(plans), steps), bool)
    for i, plan in enumerate(plans):
        for lid in plan.lids:
            first = int((lid.minute - plan.start_min) * 60 / STEP_S)
            opened[i, first : first + int(lid.seconds / STEP_S)] = True
    return opened
