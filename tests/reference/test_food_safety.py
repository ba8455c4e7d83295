"""The list of foods against what the food codes ask. It may ask for more, never for less.

Sources: FDA Food Code 2017 and 2022, sections 3-401.11 (145/155/165 °F by kind of food), 3-401.13
(135 °F for plant food kept hot) and 3-403.11 (reheating to 165 °F for 15 s), read in state and
county codes that quote them; R. Metcalf and others on solar water pasteurisation. From memory: the
advice of USDA to home cooks (whole cuts 145 °F and 3 min of rest, egg dishes 160 °F, casseroles and
leftovers 165 °F), and 21 CFR 1240.61 on milk (145 °F for 30 min).
"""

import pytest

from noonpot.core.lethality import MILK
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods

FOODS = read_foods(supplied("foods.toml"))


@pytest.mark.parametrize(
    ("name", "least_f"),
    [
        ("fish", 145),
        ("roast", 145),
        ("pulled-meat", 145),
        ("minced-meat", 155),
        ("egg-dish", 155),
        ("chicken", 165),
        ("leftovers", 165),
        ("beans", 135),
        ("rice", 135),
        ("lentils", 135),
        ("kidney-beans", 135),
        ("pasta", 135),
        ("porridge", 135),
        ("chops", 145),
        ("milk", 145),
        ("custard", 160),
        ("cheesecake", 160),
        ("eggs", 160),
        ("turkey", 165),
        ("stuffed", 165),
        ("soup", 165),
        ("stew", 165),
        ("casserole", 165),
    ],
)
def test_the_list_asks_for_what_the_food_code_asks(name: str, least_f: float) -> None:
    safe_c = FOODS[name].safe_c
    assert safe_c is not None
    assert round(safe_c) >= round((least_f - 32) / 1.8)


def test_water_is_held_long_enough_to_kill_germs() -> None:
    assert (FOODS["water"].target_c, FOODS["water"].hold_s) == (65.0, 360.0)


def test_leftovers_hold_their_heat_as_long_as_the_food_code_asks() -> None:
    assert FOODS["leftovers"].hold_s >= 15


def test_a_whole_roast_holds_the_time_of_its_temperature() -> None:
    # 3-401.11(B)(2): 145 °F for 4 min
    assert FOODS["roast"].target_c >= (145 - 32) / 1.8
    assert FOODS["roast"].hold_s >= 240


def test_milk_is_safe_no_sooner_than_the_dairies_say() -> None:
    milk = FOODS["milk"]
    assert milk.lethality == MILK
    assert milk.target_c >= (145 - 32) / 1.8
    assert milk.hold_s >= 1800


def test_whole_cuts_rest_at_their_heat() -> None:
    assert FOODS["chops"].hold_s >= 180


def test_every_food_that_can_make_people_ill_is_held_against_a_code() -> None:
    """A new one must be added to the table above, with its source."""
    marks = test_the_list_asks_for_what_the_food_code_asks.pytestmark  # type: ignore[attr-defined]
    held = {name for name, _ in marks[0].args[1]} | {"water"}
    assert {food.name for food in FOODS.values() if food.safe_c is not None} == held
