"""A few hundred futures of one cook, side by side, until the sun is lost."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, light, load
from noonpot.core.learning import Habit

Floats = NDArray[np.float64]

FINE_S, FINE_STEPS, COARSE_S = 120.0, 60, 300.0
PUSH_FADES_S = 3600.0
PACE_FADES_S = 10800.0
SETTLED_DEG = 3.0
"""A person aims no better than this (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """Where n members stand now: constants and state, arrays of shape (n,).

    ``push`` is what the heat balance lately missed [K/s], ``pace`` the logarithm of how much faster
    the core rose of late than its model; both fade.
    """

    kettle: cooker.Cooker
    food: load.FoodConstants
    stages: Floats  # (4, n)
    pot_c: Floats
    wall_c: Floats
    push: Floats
    pace: Floats
    load_share: Floats  # heat capacity of load over that of the quick part of the cooker [-]

    def rows(self, members: NDArray[np.int_]) -> "Start":
        """Some of the members, or the same ones several times over."""
        return Start(
            kettle=self.kettle.rows(members),
            food=self.food.rows(members),
            stages=self.stages[:, members],
            pot_c=self.pot_c[members],
            wall_c=self.wall_c[members],
            push=self.push[members],
            pace=self.pace[members],
            load_share=self.load_share[members],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """What became of n members: ``reached_s`` is the time from now at which each core reaches the
    target [s], infinite where it does not, shape (n,); ``cores`` and ``pots`` [°C] at the ends of
    the steps, shape (n, steps); ``end`` is where they stand at the end.
    """

    reached_s: Floats
    cores: Floats
    pots: Floats
    end: Start

    def rows(self, members: NDArray[np.int_]) -> "Path":
        """Some of the members."""
        return Path(
            self.reached_s[members],
            self.cores[members],
            self.pots[members],
            self.end.rows(members),
        )


def time_steps(left_s: float) -> Floats:
    """Lengths of the steps until the sun is lost [s]: fine at first, coarse later."""
    fine = min(FINE_STEPS, int(np.ceil(left_s / FINE_S)))
    rest = max(left_s - fine * FINE_S, 0.0)
    return np.array([FINE_S] * fine + [COARSE_S] * int(np.ceil(rest / COARSE_S)))


def future_misaim(
    misaim_now: Floats,
    sky: light.ClearSky,
    ends_s: Floats,
    since_turn_s: float,
    habit: Habit,
    n: int,
    rng: np.random.Generator,
) -> Floats:
    """Misaim of each member at each step [degrees], shape (n, steps).

    ``misaim_now`` is what the present aim would cost at each step, shape (steps,). Whether the
    person turns the cooker again is not known: some members are never turned, the others at
    intervals as usual with this cooker. Who has not come for much longer than usual will hardly
    come.
    """
    steps = len(ends_s)
    sun = between_suns(sky)
    every = habit.every_s * np.exp(0.35 * rng.standard_normal(n))
    late = since_turn_s / every
    comes = rng.random(n) < habit.share / (1 + np.maximum(late - 1.5, 0.0) ** 2)
    due = np.where(late < 1, every - since_turn_s, rng.random(n) * every)
    result = np.tile(misaim_now, (n, 1))
    time = np.where(comes, np.maximum(due, 60.0), np.inf)
    column = np.arange(steps)
    while np.any(time < ends_s[-1]):
        turned = np.searchsorted(ends_s, time)
        at = np.minimum(turned, steps - 1)
        after = np.maximum(sun[at], SETTLED_DEG)
        result = np.where(column[None, :] >= turned[:, None], after, result)
        time = time + every
    return result


def between_suns(sky: light.ClearSky) -> Floats:
    """Angle between the sun at step i and at step j [degrees], shape (steps, steps)."""
    azimuth, elevation = np.radians(sky.azimuth_deg), np.radians(sky.elevation_deg)
    level = np.cos(elevation)
    sun = np.array([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])
    return np.asarray(np.degrees(np.arccos(np.clip(sun.T @ sun, -1.0, 1.0))))


def run(
    begin: Start,
    useful: Floats,
    steps_s: Floats,
    ambient_c: float,
    boiling_c: float,
    target_c: float,
) -> Path:
    """March all members through light ``useful`` (n, steps) [W/m²]."""
    n, steps = len(begin.pot_c), len(steps_s)
    pot, wall, stages = begin.pot_c, begin.wall_c, begin.stages
    drive = 1 + begin.food.drive
    reached = np.full(n, np.inf)
    cores, pots = np.empty((steps, n)), np.empty((steps, n))
    now_s = 0.0
    for i, step_s in enumerate(steps_s):
        middle_s = now_s + step_s / 2
        push = begin.push * np.exp(-middle_s / PUSH_FADES_S)
        haste = np.exp(begin.pace * np.exp(-middle_s / PACE_FADES_S))
        waiting = load.ready(stages, begin.food, boiling_c, step_s * haste)
        heat, growth = waiting.flow(ambient_c + drive * (pot - ambient_c))
        given = push - begin.load_share * heat / step_s
        hold = begin.load_share * growth * np.maximum(drive, 0.0) / step_s
        new_pot, wall, mean_pot = cooker.step_with_mean(
            begin.kettle, pot, wall, useful[:, i], ambient_c, given, hold, step_s
        )
        before = stages[-1]
        stages = waiting.stages(ambient_c + drive * (mean_pot - ambient_c))
        core = stages[-1]
        crossed = (core >= target_c) & np.isinf(reached)
        part = (target_c - before) / np.where(core > before, core - before, 1.0)
        reached = np.where(crossed, now_s + step_s * np.clip(part, 0.0, 1.0), reached)
        pot = new_pot
        cores[i], pots[i] = core, pot
        now_s += step_s
    end = replace(
        begin,
        stages=stages,
        pot_c=pot,
        wall_c=wall,
        push=begin.push * np.exp(-now_s / PUSH_FADES_S),
        pace=begin.pace * np.exp(-now_s / PACE_FADES_S),
    )
    return Path(reached, cores.T, pots.T, end)
