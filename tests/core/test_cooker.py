"""The heat balance against solutions in closed form and an independent solver of equations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

from noonpot.core import cooker
from noonpot.core.cooker import Cooker

ONE, NONE = np.ones(1), np.zeros(1)
AIR_C = 20.0


def box(wall: float = 0.0, curve: float = 0.0) -> Cooker:
    """A box of 5 kJ/K that stagnates 90 K above the air at 900 W/m², its losses straight."""
    loss = 1 / 1800
    return Cooker(
        0.1 * loss * ONE,
        loss * ONE,
        wall * ONE,
        3000.0 * ONE,
        5e3 * ONE,
        30.0 * ONE,
        ONE,
        curve * ONE,
    )


def march(
    kettle: Cooker, start_c: float, light: float, hours: float, step_s: float = 60.0
) -> float:
    pot = wall = np.array([start_c])
    for _ in range(int(hours * 3600 / step_s)):
        pot, wall = cooker.step(kettle, pot, wall, light * ONE, AIR_C, NONE, NONE, step_s)
    return float(pot[0])


@pytest.mark.parametrize("step_s", [60.0, 300.0])
def test_without_sun_the_pot_cools_exponentially(step_s: float) -> None:
    expected = AIR_C + 80 * np.exp(-3600 / 1800)
    assert march(box(), 100.0, 0.0, hours=1, step_s=step_s) == pytest.approx(expected)


def test_in_constant_sun_the_pot_ends_at_stagnation() -> None:
    assert march(box(), 20.0, 900.0, hours=10) == pytest.approx(AIR_C + 90.0, abs=0.01)


def test_losses_that_grow_lower_the_stagnation() -> None:
    # x (1 + 0.25 x / 100) = 90  =>  x = 76.2
    excess = (-1 + np.sqrt(1 + 4 * 0.0025 * 90)) / (2 * 0.0025)
    assert march(box(curve=0.25), 20.0, 900.0, hours=20) == pytest.approx(AIR_C + excess, abs=0.05)


@pytest.mark.parametrize("step_s", [60.0, 120.0])
def test_the_march_agrees_with_an_independent_solver(step_s: float) -> None:
    kettle = box(wall=1 / 2400, curve=0.25)

    def sun(t: float) -> float:
        return 800.0 if (t // 1800) % 2 == 0 else 300.0

    def slope(t: float, y: np.ndarray) -> list[float]:
        pot, wall = y
        loss = (1 + 0.25 * (pot - AIR_C) / 100) / 1800
        into = 0.1 / 1800 * sun(t)
        return [into - loss * (pot - AIR_C) - (pot - wall) / 2400, (pot - wall) / 3000]

    pot = wall = np.array([AIR_C])
    times = np.arange(0, 4 * 3600, step_s)
    ours = []
    for t in times:
        pot, wall = cooker.step(kettle, pot, wall, sun(t) * ONE, AIR_C, NONE, NONE, step_s)
        ours.append(pot[0])
    exact = solve_ivp(
        slope, (0, 4 * 3600), [AIR_C, AIR_C], max_step=60, t_eval=times[1:], rtol=1e-8
    )
    assert np.abs(np.array(ours[:-1]) - exact.y[0]).max() < 0.4


@given(st.floats(0, 1000), st.floats(0, 200), st.floats(0, 150))
def test_more_light_never_makes_a_colder_pot(light: float, more: float, start_c: float) -> None:
    kettle = box(wall=1 / 2400, curve=0.25)
    assert march(kettle, start_c, light + more, 0.5) >= march(kettle, start_c, light, 0.5) - 1e-9


def test_a_pot_whose_probe_died_is_reckoned_on() -> None:
    read = np.array([True] * 5 + [False] * 600)
    pot = cooker.carried_on(
        box(),
        np.full(605, 40.0),
        read,
        np.full(605, 900.0),
        np.full(605, AIR_C),
        np.ones(605),
        120.0,
    )
    assert list(pot[:5]) == [40.0] * 5
    assert pot[-1] == pytest.approx(110.0, abs=0.1)


def test_a_wall_follows_its_pot_with_its_own_time_constant() -> None:
    walls = cooker.wall_behind(np.array([20.0] + [80.0] * 50), np.array([3000.0]), 60.0)
    assert walls[0, -1] == pytest.approx(80 - 60 * np.exp(-1))


def test_a_bigger_cooker_is_taken_to_hold_more_heat() -> None:
    small, large = (cooker.prior(area, 30.0)[0] for area in (0.1, 0.8))
    assert large[4] > small[4]


def test_a_load_far_heavier_than_the_pot_cannot_make_it_swing() -> None:
    hold, toward_c = 5 * 0.005 * ONE, 30.0  # five times the heat, taken within minutes
    pot = wall = np.array([90.0])
    path = []
    for _ in range(40):
        given = -hold * (pot - toward_c)
        pot, wall = cooker.step(box(), pot, wall, NONE, AIR_C, given, hold, 300.0)
        path.append(float(pot[0]))
    assert path == sorted(path, reverse=True)
    assert path[-1] == pytest.approx(30.0, abs=1.0)
