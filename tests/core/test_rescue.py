"""The rescue time: late enough to give the sun its chance, early enough to be in time and safe."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.rescue import Because, OtherHeat, Rescue, Stakes, rescue

HEAT = OtherHeat()
HOUR = 3600.0


def course(*cores: float) -> tuple[np.ndarray, np.ndarray]:
    return np.linspace(0.0, 6 * HOUR, len(cores)), np.array(cores)


def soup(**more: float | None) -> Stakes:
    known = {"target_c": 85.0, "mass_kg": 1.2, "hold_s": 600.0} | more
    return Stakes(wet=True, **known)  # type: ignore[arg-type]


def at(found: Rescue | None) -> float:
    assert found is not None
    return found.at_s


def test_a_litre_boils_on_a_plate_in_some_minutes() -> None:
    # common practice, no source: a litre of water in a covered pot on 1500 W, 5 to 10 min
    boils_s = HEAT.heating_s(np.array(20.0), 100.0, 1.0, wet=True)
    assert 5 * 60 < float(boils_s) < 10 * 60


def test_a_loaf_and_a_roast_take_their_usual_time_in_the_oven() -> None:
    # common practice, no source: a loaf of 0.8 kg 40 to 60 min, a roast of 1.5 kg 60 to 100 min
    loaf = float(HEAT.heating_s(np.array(20.0), 95.0, 0.8, wet=False))
    roast = float(HEAT.heating_s(np.array(5.0), 63.0, 1.5, wet=False))
    assert 40 * 60 < loaf < 60 * 60
    assert 50 * 60 < roast < 100 * 60


def test_food_of_an_unknown_kind_is_given_the_longer_time() -> None:
    both = [float(HEAT.heating_s(np.array(20.0), 90.0, 1.0, wet=w)) for w in (True, False)]
    assert float(HEAT.heating_s(np.array(20.0), 90.0, 1.0, wet=None)) == max(both)


def test_the_meal_leaves_time_to_fetch_to_heat_and_to_hold() -> None:
    meal_s = 5 * HOUR
    found = rescue(*course(45, 45), soup(meal_s=meal_s), HEAT)
    # 40 K x 1.2 kg x 3800 J/kg K / 800 W = 228 s; 900 s until it is hot; 600 s at the target
    assert at(found) == pytest.approx(meal_s - 228 - 900 - 600, abs=61)
    assert found is not None
    assert found.because is Because.MEAL


def test_food_that_is_done_before_the_meal_needs_no_rescue() -> None:
    assert rescue(*course(20, 60, 90, 90), soup(meal_s=5 * HOUR), HEAT) is None


def test_the_hold_counts_before_the_meal() -> None:
    rises = course(20, 60, 86, 86)  # at the target shortly before the fourth hour
    assert rescue(*rises, soup(meal_s=5 * HOUR, hold_s=1800.0), HEAT) is None
    late = rescue(*rises, soup(meal_s=5 * HOUR, hold_s=2 * HOUR), HEAT)
    assert at(late) < 3 * HOUR


def test_a_meal_that_cannot_be_met_any_more_was_missed_by_so_much() -> None:
    assert at(rescue(*course(45, 45), soup(meal_s=1000.0), HEAT)) == pytest.approx(-728, abs=1)


def test_food_that_harms_nobody_has_no_rescue_without_a_meal() -> None:
    assert rescue(*course(20, 30), soup(), HEAT) is None


def test_lukewarm_food_is_out_of_the_danger_zone_within_four_hours() -> None:
    # FDA Food Code 3-501.19: 4 h; it stands there for one hour already
    stakes = soup(safe_c=74.0, lukewarm_since_s=-HOUR)
    found = rescue(*course(40, 40), stakes, HEAT)
    need_s = 17 * 1.2 * 3800 / 800
    assert at(found) == pytest.approx(3 * HOUR - 900 - need_s, abs=61)
    assert found is not None
    assert found.because is Because.SAFETY


def test_a_stricter_limit_is_kept() -> None:
    stakes = soup(safe_c=74.0)
    usual, strict = (
        at(rescue(*course(40, 40), stakes, OtherHeat(limit_s=h * HOUR))) for h in (4, 2)
    )
    assert usual - strict == pytest.approx(2 * HOUR, abs=61)


def test_food_that_gets_safe_by_itself_in_time_needs_no_rescue() -> None:
    assert rescue(*course(5, 50, 80, 80), soup(safe_c=74.0), HEAT) is None


def test_food_that_is_warm_and_not_safe_is_moved_before_it_cools() -> None:
    found = rescue(*course(60, 66, 66, 40), soup(safe_c=74.0), HEAT)
    assert at(found) == pytest.approx(4 * HOUR + 2 * HOUR * 9 / 26, abs=61)  # 57 °C, going down
    assert at(rescue(*course(60, 66), soup(safe_c=74.0), HEAT)) == 6 * HOUR  # the sun is lost


def test_when_the_sun_is_lost_already_the_time_is_now() -> None:
    now = np.array([100.0]), np.array([65.0])
    assert rescue(*now, soup(safe_c=74.0), HEAT) == Rescue(100.0, Because.SAFETY)


def test_of_meal_and_safety_the_earlier_counts() -> None:
    early = rescue(*course(40, 40), soup(safe_c=74.0, meal_s=2 * HOUR), HEAT)
    late = rescue(*course(40, 40), soup(safe_c=74.0, meal_s=5.9 * HOUR), HEAT)
    assert early is not None
    assert late is not None
    assert (early.because, late.because) == (Because.MEAL, Because.SAFETY)


CORES = st.lists(st.floats(-5, 110), min_size=2, max_size=9)


@given(CORES, st.floats(50, 3000), st.floats(1.0, 3.0), st.floats(0, 6 * HOUR))
def test_a_slower_heat_never_has_more_time(
    cores: list[float], power_w: float, slower: float, meal_s: float
) -> None:
    stakes = soup(meal_s=meal_s, safe_c=74.0)
    fast = rescue(*course(*cores), stakes, OtherHeat(stove_w=power_w))
    slow = rescue(*course(*cores), stakes, OtherHeat(stove_w=power_w / slower))
    assert (fast is None) == (slow is None)
    if fast is not None:
        assert at(slow) <= at(fast) + 1e-6


@given(CORES, st.floats(0, 20), st.floats(0, 6 * HOUR))
def test_a_hotter_course_never_has_less_time_for_the_meal(
    cores: list[float], hotter_k: float, meal_s: float
) -> None:
    cold = rescue(*course(*cores), soup(meal_s=meal_s), HEAT)
    hot = rescue(*course(*(c + hotter_k for c in cores)), soup(meal_s=meal_s), HEAT)
    assert hot is None or at(hot) >= at(cold) - 1e-6
