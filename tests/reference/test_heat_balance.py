"""The march of pot, wall and food: an independent solver, simple limits, sums of heat."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

from noonpot.core import cooker, futures, load
from noonpot.core.futures import Path, Start

Floats = NDArray[np.float64]

AIR_C, BOILING_C, TARGET_C = 22.0, 98.5, 85.0
ONE = np.ones(1)
RISE, LOSS, CAPACITY = 0.11, 1 / 1800, 5000.0
FOODS = {
    "loaf": (False, 0.6),
    "stew": (True, 1.2),
    "large stew": (True, 3.0),
    "anything": (None, 1.0),
}


def kettle(
    gain: float = RISE * LOSS, loss: float = LOSS, wall: float = 1 / 2400, curve: float = 0.25
) -> cooker.Cooker:
    return cooker.Cooker(
        gain * ONE,
        loss * ONE,
        wall * ONE,
        3000 * ONE,
        CAPACITY * ONE,
        30 * ONE,
        0.6 * ONE,
        curve * ONE,
    )


def what(food: str) -> tuple[load.FoodConstants, float]:
    """A usual food of this name, and its heat capacity over that of the pot."""
    wet, mass_kg = FOODS[food]
    mean, _ = load.prior(wet)
    constants = load.FoodConstants.of((mean + load.by_mass(mass_kg, wet))[None, :])
    return constants, load.heat_j_per_k(mass_kg, wet) / CAPACITY


def begun(
    box: cooker.Cooker,
    food: load.FoodConstants,
    share: float,
    pot_c: float = 90.0,
    push: float = 0.0,
    pace: float = 0.0,
) -> Start:
    """Cold food, just put into a hot pot."""
    stages = load.start(25.0 * ONE)
    wall_c = pot_c - 20.0
    return Start(box, food, stages, pot_c * ONE, wall_c * ONE, push * ONE, pace * ONE, share * ONE)


def march(begin: Start, light: Floats | float, steps_s: Floats) -> Path:
    useful = np.broadcast_to(np.asarray(light), steps_s.shape)[None, :]
    return futures.run(begin, useful, steps_s, AIR_C, BOILING_C, TARGET_C)


def sun(t: Floats | float) -> Floats:
    """A day with waves in it [W/m²]."""
    return np.asarray(700 + 250 * np.sin(np.asarray(t) / 2500.0))


def solved(begin: Start, ends_s: Floats) -> Floats:
    """Pot, wall and four stages by equations written out anew, shape (6, n).

    Pot: light x gain - losses - exchange with the wall - heat into the load. Food: stages of 50,
    30, 15 and 5 % of its heat capacity, in a row; evaporation adds to the capacity below boiling;
    steam helps heat inwards and carries some away; a food's own pace hastens all of that. Solved by
    LSODA of ODEPACK, in SciPy.
    """
    box, food = begin.kettle, begin.food

    def slope(t: float, state: Floats) -> Floats:
        pot, wall, stages = state[0], state[1], state[2:]
        excess = pot - AIR_C
        losses = box.loss[0] * (1 + box.curve[0] * excess / 100) * excess
        around = AIR_C + (1 + food.drive[0]) * excess
        haste = np.exp(begin.pace[0] * np.exp(-t / 10800))
        flow = haste * food.outer[0] * (around - stages[0])
        steam = np.exp(5000 * (1 / (BOILING_C + 273.15) - 1 / (stages + 273.15)))
        below = np.maximum(BOILING_C - 2 - stages, 0)
        holds = np.array([0.5, 0.3, 0.15, 0.05])
        holds = holds * (1 + food.latent[0] * np.exp(-((below / 6) ** 2)))
        moist = 1 + food.vapour[0] * (steam[1:] + steam[:-1]) / 2
        inwards = (
            haste * food.inner[0] * np.array([1, 0.54, 0.2]) * moist * (stages[:-1] - stages[1:])
        )
        vented = haste * food.vent[0] * 0.5 * steam[0] / (1.02 - steam[0])
        gains = np.append(flow - vented, inwards) - np.append(inwards, 0)
        rises = gains / holds
        warmed = box.gain[0] * sun(t) + begin.push[0] * np.exp(-t / futures.PUSH_FADES_S)
        taken = losses + box.wall[0] * (pot - wall) + begin.load_share[0] * flow
        return np.array([warmed - taken, (pot - wall) / box.wall_time[0], *rises])

    first = [begin.pot_c[0], begin.wall_c[0], *begin.stages[:, 0]]
    span = (0.0, float(ends_s[-1]))
    found = solve_ivp(slope, span, first, "LSODA", ends_s, rtol=1e-7, atol=1e-6, max_step=300)
    return np.asarray(found.y)


def first_over(core_c: Floats, ends_s: Floats) -> float:
    """When the core first has its target [s]."""
    after = int(np.argmax(core_c >= TARGET_C))
    assert after > 0
    pair = slice(after - 1, after + 1)
    return float(np.interp(TARGET_C, core_c[pair], ends_s[pair]))


@pytest.mark.parametrize("food", FOODS)
def test_on_short_steps_the_march_is_that_of_an_independent_solver(food: str) -> None:
    """Five seconds: within 0.1 K in four hours, most of it from the first minutes, in which cold
    food meets a hot pot. A term that is missing, or wrong by some percent, shows."""
    steps_s = np.full(2880, 5.0)
    ends_s = np.cumsum(steps_s)
    begin = begun(kettle(), *what(food), push=2e-3, pace=0.1)
    ours, theirs = march(begin, sun(ends_s - 2.5), steps_s), solved(begin, ends_s)
    assert theirs[2:].max() < BOILING_C - 0.5  # beyond, ours holds what is moist at boiling
    assert np.abs(ours.pots[0] - theirs[0]).max() < 0.1
    assert np.abs(ours.cores[0] - theirs[5]).max() < 0.1
    assert ours.reached_s[0] == pytest.approx(first_over(theirs[5], ends_s), abs=30)


@pytest.mark.parametrize("food", FOODS)
def test_on_the_steps_of_a_forecast_pot_and_core_stay_close(
    food: str,
) -> None:
    steps_s = futures.time_steps(5 * 3600.0)
    ends_s = np.cumsum(steps_s)
    begin = begun(kettle(), *what(food))
    ours, theirs = march(begin, sun(ends_s - steps_s / 2), steps_s), solved(begin, ends_s)
    assert np.abs(ours.pots[0] - theirs[0]).max() < 0.5
    assert np.abs(ours.cores[0] - theirs[5]).max() < 1.8


LONG = futures.time_steps(18 * 3600.0)


def dull(food: str) -> tuple[load.FoodConstants, float]:
    """The same food without steam: nothing but heat capacity and conduction."""
    like, share = what(food)
    no = 0 * ONE
    return replace(like, latent=no, vent=no, vapour=no, drive=no), share


def test_without_sun_and_load_the_pot_cools_with_its_time_constant() -> None:
    """Newton's law: the excess falls to 1/e in every 1 / loss, here half an hour."""
    begin = begun(kettle(wall=0.0, curve=0.0), dull("stew")[0], share=0.0, pot_c=100.0)
    ends_s = np.cumsum(LONG)
    assert march(begin, 0.0, LONG).pots[0] - AIR_C == pytest.approx(78 * np.exp(-ends_s / 1800))


def test_without_sun_a_full_pot_cools_slower_by_the_heat_it_holds() -> None:
    """One lump of pot and stew, exchanging quickly: time constant (1 + share) / loss."""
    food, share = dull("large stew")
    quick = replace(food, outer=100 * food.outer, inner=100 * food.inner)
    cold = begun(kettle(wall=0.0, curve=0.0), quick, share, pot_c=80.0)
    path = march(replace(cold, stages=load.start(80.0 * ONE)), 0.0, np.full(60, 60.0))
    left = (path.pots[0, -1] - AIR_C) / 58
    assert left == pytest.approx(np.exp(-3600 / (1800 * (1 + share))), rel=0.01)


@pytest.mark.parametrize("share", [0.0, 0.3, 3.0])
@pytest.mark.parametrize("light", [200.0, 500.0])
def test_in_constant_sun_pot_and_food_end_at_stagnation(light: float, share: float) -> None:
    """What comes in goes out: air + light x gain / loss, whatever is in the pot."""
    end = march(begun(kettle(curve=0.0), dull("loaf")[0], share), light, np.tile(LONG, 3)).end
    assert end.pot_c[0] == pytest.approx(AIR_C + RISE * light, abs=0.05)
    assert end.wall_c[0] == pytest.approx(AIR_C + RISE * light, abs=0.05)
    assert end.stages[:, 0] == pytest.approx(AIR_C + RISE * light, abs=0.05)


def test_an_empty_pot_is_the_cooker_alone() -> None:
    begin = begun(kettle(), what("stew")[0], share=0.0)
    ends_s = np.cumsum(LONG)
    light = sun(ends_s)
    pot, wall, alone = begin.pot_c, begin.wall_c, []
    for useful, step_s in zip(light, LONG, strict=True):
        no = 0 * ONE
        pot, wall = cooker.step(begin.kettle, pot, wall, useful * ONE, AIR_C, no, no, step_s)
        alone.append(pot[0])
    assert march(begin, light, LONG).pots[0] == pytest.approx(np.array(alone), abs=1e-9)


@pytest.mark.parametrize("food", FOODS)
@pytest.mark.parametrize("light", [0.0, 20.0])
def test_what_the_pot_gives_the_food_has(food: str, light: float) -> None:
    """Without losses the sum of heat is that of the beginning and of the sun, for half a day. Heat
    is counted over the heat capacity of the pot [K]."""
    constants, share = dull(food)
    begin = begun(kettle(loss=1e-15, wall=0.0, curve=0.0), constants, share)
    steps_s = LONG[:100]
    end = march(begin, light, steps_s).end
    had, has = (
        x.pot_c[0] + share * float(load.SHARES[:, 0] @ x.stages[:, 0]) for x in (begin, end)
    )
    given = light * RISE * LOSS * float(steps_s.sum())
    assert has - had == pytest.approx(given, abs=0.25)
