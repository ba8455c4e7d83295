"""The list of foods against what the food codes ask. It may ask for more, never for less.

Sources: FDA Food Code 2017 and 2022, sections 3-401.11 (145/155/165 °F by kind of food), 3-401.13
(135 °F for plant food kept hot) and 3-403.11 (reheating to 165 °F for 15 s), read in state and
county codes that quote them; R. Metcalf and others on solar water pasteurisation.
"""

import pytest

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
