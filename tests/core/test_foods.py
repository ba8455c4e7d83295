"""Foods: what the elevation does to a target, and what it must never do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.foods import Food, asked_target, celsius, food_named, target_at
from noonpot.core.water import boiling_point_c
from noonpot.core.wording import Wording
from noonpot.errors import CookError
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods

FOODS = read_foods(supplied("foods.toml"))
BREAD = Food("bread", target_c=96.0)
CHICKEN = Food("chicken", target_c=82.0, safe_c=74.0)


def test_at_the_sea_every_target_of_the_list_stands() -> None:
    boiling_c = boiling_point_c(0.0)
    for food in FOODS.values():
        target = target_at(food, boiling_c)
        assert (target.temp_c, target.words) == (food.target_c, ""), food.name


def test_high_up_bread_is_done_cooler_and_the_baker_is_told() -> None:
    # Bakers at 1524 m (5000 ft) take lean bread out at 91 to 93 °C: common practice, no source.
    target = target_at(BREAD, boiling_point_c(1524.0))
    assert 91.0 <= target.temp_c <= 93.0
    assert target.words == (
        "Water boils at 95 °C here, so bread counts as done at 93 °C instead of 96 °C."
    )


def test_the_words_speak_the_units_of_the_household() -> None:
    words = target_at(BREAD, 94.9, lambda c: f"{c * 1.8 + 32:.0f} °F").words
    assert (
        words == "Water boils at 203 °F here, so bread counts as done at 199 °F instead of 205 °F."
    )


def test_a_target_may_fall_to_the_safe_temperature() -> None:
    assert target_at(CHICKEN, 80.0).temp_c == 78.0


def test_where_safety_cannot_be_reached_the_target_stays_safe_and_says_so() -> None:
    target = target_at(CHICKEN, 75.0)
    assert target.temp_c == 74.0
    assert target.words == (
        "Water boils at 75 °C here, so chicken may never reach the 74 °C that make it safe; "
        "cook it on another heat."
    )


def unsafe(food: Food, boiling_c: float) -> bool:
    """Whether its safe temperature is out of reach, which is always told."""
    out_of_reach = food.safe_c is not None and food.safe_c > boiling_c - 2.0
    return out_of_reach and "another heat" in target_at(food, boiling_c).words


@given(boiling_c=st.floats(60.0, 101.0), name=st.sampled_from(sorted(FOODS)))
def test_no_elevation_lowers_a_safety_temperature(boiling_c: float, name: str) -> None:
    food = FOODS[name]
    target = target_at(food, boiling_c)
    assert target.temp_c <= food.target_c
    assert food.safe_c is None or target.temp_c >= food.safe_c
    alike = celsius(target.temp_c) == celsius(food.target_c)
    assert bool(target.words) == (food.target_c > boiling_c - 2.0 and not alike) or unsafe(
        food, boiling_c
    )


def test_a_target_below_safety_is_refused() -> None:
    with pytest.raises(ValueError, match="target_c is 60, but must not be below safe_c, 74"):
        Food("casserole", target_c=60.0, safe_c=74.0)


def test_meat_fish_and_eggs_count_as_hazardous_and_bread_does_not() -> None:
    assert all(FOODS[name].hazardous for name in ("chicken", "fish", "egg-dish", "stew", "water"))
    assert not FOODS["bread"].hazardous


def test_every_food_says_where_its_numbers_come_from() -> None:
    assert all(food.source for food in FOODS.values())


def test_a_food_is_found_whatever_its_capitals_and_blanks() -> None:
    assert food_named(FOODS, " Enriched  Bread ") is FOODS["enriched-bread"]


def test_an_unknown_food_gets_the_nearest_name() -> None:
    with pytest.raises(CookError) as caught:
        food_named(FOODS, "chiken")
    assert str(caught.value) == 'food "chiken" is not in the table; did you mean chicken?'


def test_a_household_reads_its_own_unit_and_no_change_that_it_would_not_see() -> None:
    fahrenheit = Wording("F").temperature
    beans = Food("beans", 96.0)
    assert "203 °F here" in target_at(beans, 95.0, fahrenheit).words
    assert "199 °F instead of 205 °F" in asked_target(beans, 96.0, 95.0, fahrenheit).words
    assert target_at(Food("beans", 93.2), 95.0).words == ""
