"""When a probe in a bath has come to rest, and how well the bath is known."""

import random

import pytest

from baths import WrongProbe, readings_in
from noonpot.core.bath import boiling_bath, ice_bath, rest, step_k
from noonpot.core.readings import Reading
from noonpot.errors import CookError


@pytest.fixture
def chance() -> random.Random:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    return random.Random(seed)


def step_of(heard: list[Reading]) -> float:
    return step_k(reading.value for reading in heard)


def test_a_probe_that_has_settled_is_at_rest_with_the_mean_of_its_last_minute(
    chance: random.Random,
) -> None:
    heard = readings_in(WrongProbe(off_k=0.4), 0.0, 300, chance)
    found = rest(heard, step_of(heard))
    assert found is not None
    assert found.unrest == ""
    assert found.mean_c == pytest.approx(0.4, abs=0.05)
    assert found.spread_k == pytest.approx(0.045, abs=0.025)
    assert found.step_k == 0.0625


def test_less_than_a_minute_and_too_few_readings_tell_nothing(chance: random.Random) -> None:
    heard = readings_in(WrongProbe(), 0.0, 300, chance)
    assert rest(heard[:30], 0.0625) is None
    assert rest(heard[:31], 0.0625) is not None
    slow = readings_in(WrongProbe(), 0.0, 180, chance, every_s=20)
    assert rest(slow, 0.0625) is None


def test_a_probe_on_its_way_still_moves(chance: random.Random) -> None:
    heard = readings_in(WrongProbe(lag_s=60), 0.0, 120, chance)
    found = rest(heard, 0.0625)
    assert found is not None
    assert found.unrest.startswith("it still moves, by -")


def test_bubbles_at_the_tip_are_not_steady(chance: random.Random) -> None:
    heard = readings_in(WrongProbe(noise_k=0.6, tip_c=95.0), 95.0, 120, chance)
    flat = [
        Reading("loaf", one.at, one.mono_s, 95.0 + (0.5 if number % 2 else -0.5))
        for number, one in enumerate(heard)
    ]
    found = rest(flat, 0.0625)
    assert found is not None
    assert found.unrest == "it is not steady: ±0.51 K; stir, and keep the tip off the wall"


def test_the_coarse_steps_of_a_probe_are_no_movement(chance: random.Random) -> None:
    heard = readings_in(WrongProbe(noise_k=0.1, tip_c=0.12), 0.12, 240, chance)
    coarse = [Reading(r.probe, r.at, r.mono_s, round(r.value * 4) / 4) for r in heard]
    assert {r.value for r in coarse} <= {-0.25, 0.0, 0.25, 0.5}
    calm = [r.value for r in coarse]
    assert step_k(calm) == 0.25
    found = rest(coarse, 0.25)
    assert found is not None
    assert found.doubt_k >= 0.25 / 12**0.5


def test_the_step_is_the_least_difference_and_a_single_value_may_be_as_coarse_as_any() -> None:
    assert step_k([20.0, 20.5, 20.125]) == 0.125
    assert step_k([1.0, 1.001]) == 0.0625
    assert step_k([0.0] * 50) == 0.5


def test_the_weather_is_a_doubt_until_a_barometer_tells() -> None:
    assert ice_bath().doubt_k == pytest.approx(0.1)
    assert boiling_bath(0.0).doubt_k == pytest.approx(0.295, abs=0.005)
    assert boiling_bath(1524.0).doubt_k > boiling_bath(0.0).doubt_k
    measured = boiling_bath(1524.0, 84_311.0)
    assert measured.doubt_k == pytest.approx(0.1)
    assert measured.true_c == pytest.approx(94.904, abs=0.002)


@pytest.mark.parametrize(("elevation_m", "pressure_pa"), [(1524.0, 101_800.0), (0.0, 84_300.0)])
def test_the_pressure_of_a_weather_report_is_not_that_of_a_mountain(
    elevation_m: float, pressure_pa: float
) -> None:
    with pytest.raises(CookError, match="not the pressure of a weather report"):
        boiling_bath(elevation_m, pressure_pa)


def test_the_cautions_go_with_the_hot_bath() -> None:
    assert "Steam burns" in boiling_bath(0.0).how
    assert "cold glass" in boiling_bath(0.0).how
