"""The table of foods as a picture: numbers and tones that eyes and printers can tell apart."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

from hypothesis import example, given
from hypothesis import strategies as st

from noonpot.core.moment import utc
from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.seasonadvice import advised, surest
from noonpot.core.seasonpicture import FULL, SLIM, fields, titled
from noonpot.core.seasontones import TONES, number_of, tone_of
from noonpot.core.seasonwords import Basis
from noonpot.core.wording import Wording

AT, LATE = utc("2026-06-15T10:40:00Z"), utc("2026-06-15T13:40:00Z")
BASIS = Basis(3, 20.0, 1800.0, {"bread": 0.8, "a-very-long-name-of-food": 1.2})
READABLE = 4.5
"""Contrast of small letters: WCAG 2.2, 1.4.3."""


def cell(chance: float, food: str = "bread", month: int = 6, sky: str = "clear") -> Cell:
    return Cell(food, month, sky, chance, 7200.0, AT, LATE)


CELLS = [
    cell(0.91 - 0.05 * month - 0.1 * i, food, month, sky)
    for i, sky in enumerate(SKIES)
    for food in BASIS.masses_kg
    for month in range(1, 13)
]


def lightness(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((lightness(one), lightness(other)))
    return (high + 0.05) / (low + 0.05)


def test_every_number_is_legible_on_its_ground() -> None:
    assert min(contrast(tone.ground, tone.ink) for tone in TONES) >= READABLE


def test_a_better_chance_is_clearly_darker_also_in_grey() -> None:
    grounds = [lightness(tone.ground) for tone in TONES]
    assert all(dark + 0.03 < light for dark, light in pairwise(grounds))


@given(st.floats(0, 1))
@example(0.005)
@example(0.995)
def test_what_is_called_good_has_a_dark_ground(chance: float) -> None:
    found = cell(chance)
    assert (lightness(tone_of(found).ground) < 0.2) == (found.verdict == "good")
    assert 0 < len(number_of(chance)) <= 3
    assert (number_of(chance) == "0") == (chance == 0.0)


def test_all_skies_foods_and_months_are_drawn() -> None:
    drawn = titled("box", CELLS, BASIS)
    root = ET.fromstring(drawn)  # noqa: S314  our own
    words = [text.text for text in root.iter() if text.tag.endswith("text")]
    for told in ("What to cook in box", "Clear sky", "Thin cloud", "Broken cloud", "bread, 0.8 kg"):
        assert told in words
    assert words.count("Jun") == 3
    assert words.count("86") == 2
    assert drawn.count('height="16"') == len(CELLS)
    assert "bread: " in drawn.partition(">")[0]  # told to those who cannot see it


def test_a_phone_gets_it_narrow_and_with_short_names() -> None:
    slim = fields(CELLS, BASIS, SLIM, "foods")
    assert "a very long n…" in slim
    assert ">J<" in slim
    for drawn, width in ((slim, SLIM), (fields(CELLS, BASIS, FULL, "foods"), FULL)):
        edges = re.findall(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', drawn)
        assert edges
        assert max(float(x) + float(w) for x, w in edges) <= width


def test_one_food_is_advised_in_one_sentence() -> None:
    assert advised(cell(0.91), Wording()) == (
        "In June bread gets done 9 days of 10 under a clear sky when it goes in at about 10:40, by "
        "13:40 at the latest."
    )
    assert advised(Cell("rice", 1, "thin", 0.04, None, None, None), Wording()) == (
        "In January rice gets done hardly ever under thin cloud."
    )
    assert "nearly every day" in advised(cell(0.97), Wording())


def test_the_surest_food_of_the_month_is_a_good_one_or_none() -> None:
    some = [cell(0.85), cell(0.95, "rice"), cell(0.99, "soup", 7), cell(1.0, "fish", 6, "thin")]
    found = surest(some, 6)
    assert found is not None
    assert found.food == "rice"
    assert surest([cell(0.7)], 6) is None
