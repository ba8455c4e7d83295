"""Heat on its way to the core: against exact series, energy, and what practice shows."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core import load
from noonpot.core.load import FoodConstants

ONE = np.ones(1)
BOILING_C = 100.0


@pytest.mark.parametrize("temp_c", [-1000.0, -273.15, -100.0])
def test_there_is_no_steam_where_nothing_can_be_so_cold(temp_c: float) -> None:
    assert 0.0 <= float(load.steam_share(np.array(temp_c), 100.0)) < 1e-6


def food(
    outer: float, inner: float, latent: float = 0.0, vent: float = 0.0, vapour: float = 0.0
) -> FoodConstants:
    return FoodConstants(outer * ONE, inner * ONE, latent * ONE, vent * ONE, vapour * ONE, 0 * ONE)


def march(
    what: FoodConstants, pot_c: float, seconds: float, start_c: float = 20.0, step_s: float = 60.0
) -> np.ndarray:
    stages = load.start(np.array([start_c]))
    for _ in range(int(seconds / step_s)):
        stages, _ = load.step(stages, what, pot_c * ONE, BOILING_C, step_s)
    return stages[:, 0]


def test_water_follows_the_pot_with_one_time_constant() -> None:
    stages = march(food(1 / 1800, 1.0), pot_c=80.0, seconds=3600, step_s=5.0)
    assert stages == pytest.approx(80 - 60 * np.exp(-2), abs=0.15)


@pytest.mark.parametrize(
    ("fourier", "exact"),
    [(0.5, 0.370777), (1.0, 0.107977)],  # full series of the sphere at Bi = 1, 60 terms
)
def test_a_ball_of_food_warms_up_as_the_exact_series_says(fourier: float, exact: float) -> None:
    # a ball of radius 1 and diffusivity 1: 3 Bi from the air, through half the outer shell to its
    # middle (r = 0.9); inner = 3 r² / dr at the first face, r = 0.794, dr = 0.21
    outside = 1 / (1 / 3.0 + (1 / 0.9 - 1) / 3.0)
    stages = march(food(outside, 9.0), pot_c=1.0, seconds=fourier, start_c=0.0, step_s=0.005)
    assert 1 - stages[-1] == pytest.approx(exact, abs=0.04)


def test_what_flows_in_is_found_in_the_food() -> None:
    what = food(1 / 1500, 1 / 2000)
    stages, taken = load.start(np.array([20.0])), 0.0
    for _ in range(60):
        stages, heat = load.step(stages, what, 70 * ONE, BOILING_C, 60.0)
        taken += float(heat[0])
    assert float((load.SHARES[:, 0] * (stages[:, 0] - 20)).sum()) == pytest.approx(taken)


def test_nothing_moist_gets_hotter_than_boiling() -> None:
    stages = march(food(1 / 900, 1 / 900, latent=1.0, vapour=1.5), pot_c=160.0, seconds=6 * 3600)
    assert stages.max() <= BOILING_C
    assert stages.min() > BOILING_C - 1


def test_steam_that_escapes_holds_a_stew_below_boiling() -> None:
    tight, leaky = (march(food(1 / 1200, 1 / 60, vent=v), 103.0, 8 * 3600)[-1] for v in (0.0, 4e-3))
    assert tight == pytest.approx(BOILING_C, abs=0.1)
    assert leaky < BOILING_C - 3


def test_evaporation_delays_a_loaf_near_boiling() -> None:
    dry, moist = (
        march(food(1 / 1500, 1 / 2500, latent=x), 120.0, 2 * 3600)[-1] for x in (0.0, 1.5)
    )
    assert moist < dry - 2


constants = st.builds(
    food,
    st.floats(1e-4, 5e-3),
    st.floats(1e-4, 1e-2),
    st.floats(0, 3),
    st.floats(0, 1e-3),
    st.floats(0, 3),
)


@given(constants, st.floats(20, 130), st.floats(0, 30))
def test_a_hotter_pot_never_cools_the_core(what: FoodConstants, pot_c: float, more: float) -> None:
    assert (
        march(what, pot_c + more, 5400, step_s=120)[-1]
        >= march(what, pot_c, 5400, step_s=120)[-1] - 0.05
    )


@given(st.booleans(), st.floats(0.3, 2.0), st.floats(1.0, 2.5))
def test_a_heavier_load_is_never_quicker(wet: bool, mass_kg: float, more: float) -> None:
    mean, _ = load.prior(wet)
    light, heavy = (
        march(FoodConstants.of((mean + load.by_mass(m, wet))[None, :]), 95.0, 5400, step_s=120)[-1]
        for m in (mass_kg, mass_kg * more)
    )
    assert heavy <= light + 1e-6


def test_a_small_loaf_takes_one_to_two_hours_in_a_warm_pot() -> None:  # common practice, no source
    mean, _ = load.prior(wet=False)
    loaf = FoodConstants.of((mean + load.by_mass(0.6, wet=False))[None, :])
    stages, minutes = load.start(np.array([25.0])), 0
    while stages[-1, 0] < 90.0:
        stages, _ = load.step(stages, loaf, 105 * ONE, 98.3, 60.0)
        minutes += 1
    assert 60 <= minutes <= 120


def test_unknown_food_leaves_room_for_both_kinds() -> None:
    mean, sd = load.prior(None)
    for wet in (True, False):
        assert (np.abs(load.prior(wet)[0] - mean) <= 1.2 * sd).all()
