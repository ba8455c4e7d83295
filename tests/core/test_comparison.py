"""Side by side: two cookers or set-ups on the same days."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest

from noonpot.core.comparewords import comparison_json, comparison_lines
from noonpot.core.comparison import Comparison, Score, compared, scores
from noonpot.core.tenminutes import Interval, brought_to_load
from ratings import interval
from simday import JUNE


def cook(
    day: int, gain: float, loss: float, wm2: float = 850.0, mass_kg: float = 1.75
) -> list[Interval]:
    """A cooker of one mass that is the water's, in closed form: 0.25 m², air of 25 °C."""
    held = mass_kg * 4186
    settle_s, rest = held / (loss * 0.25), 25 + gain * wm2 / loss
    temps = rest + (32 - rest) * np.exp(-600 * np.arange(8) / settle_s)
    return [
        replace(
            interval(float(a), float(b), wm2, 25.0, i, mass_kg, JUNE + timedelta(days=day)),
            kg_per_m2=mass_kg / 0.25,
        )
        for i, (a, b) in enumerate(pairwise(temps))
    ]


def test_a_cook_is_brought_to_the_same_light_and_excess() -> None:
    # 0.5 x 700 x 0.25 - 5 x 50 x 0.25 = 25 W, whatever shone and however much was cooked
    for wm2, mass in ((850.0, 1.75), (700.0, 1.75), (950.0, 0.9)):
        (score,) = scores([("a", cook(0, 0.5, 5.0, wm2, mass))])
        assert score.power_w == pytest.approx(25.0, abs=0.5)


def test_the_share_that_the_box_takes_is_taken_out() -> None:
    held = 3000.0
    small = [replace(i, heat_j_k=i.heat_j_k) for i in cook(0, 0.5, 5.0, mass_kg=0.9)]
    (score,) = scores([("a", [brought_to_load(i, held) for i in small])])
    assert score.power_w > 25.5


def test_three_days_of_both_tell_a_real_difference() -> None:
    days = [(d, 800.0 + 40 * d) for d in range(4)]
    cooks = [("plain", cook(d, 0.45 + 0.01 * d, 5.0, wm2)) for d, wm2 in days]
    cooks += [("bag", cook(d, 0.45 + 0.01 * d, 4.2, wm2)) for d, wm2 in days]
    found = compared(scores(cooks), "plain", "bag")
    assert found.pairs == 4
    assert found.real
    assert found.more_w is not None
    assert found.more_w.value == pytest.approx(0.8 * 50 * 0.25, abs=0.5)
    assert "a real difference" in "\n".join(comparison_lines(found))


def test_a_difference_within_the_scatter_may_be_chance() -> None:
    found = compared(
        [
            Score(s, JUNE + timedelta(days=d), w)
            for s, d, w in (
                ("a", 0, 20),
                ("b", 0, 26),
                ("a", 1, 24),
                ("b", 1, 19),
                ("a", 2, 22),
                ("b", 2, 24),
            )
        ],
        "a",
        "b",
    )
    assert not found.real
    assert "may be chance" in "\n".join(comparison_lines(found))
    assert comparison_json(found)["enough"] is True


def test_two_days_are_not_enough() -> None:
    some = [("a", cook(d, 0.5, 5.0)) for d in range(2)] + [
        ("b", cook(d, 0.5, 4.0)) for d in range(5)
    ]
    found = compared(scores(some), "a", "b")
    assert (found.pairs, found.more_w, found.real) == (2, None, False)
    assert "not enough cooks yet. There are 2 days" in "\n".join(comparison_lines(found))
    none = compared([], "a", "b")
    assert none == Comparison("a", "b", 0)
    assert comparison_json(none)["enough"] is False


def test_days_of_one_side_alone_do_not_count() -> None:
    cooks = [("a", cook(d, 0.5, 5.0)) for d in range(3)]
    cooks += [("b", cook(d, 0.5, 5.0)) for d in range(3, 6)]
    assert compared(scores(cooks), "a", "b").pairs == 0


def test_a_cook_with_too_few_good_intervals_has_no_score() -> None:
    whole = cook(0, 0.5, 5.0)
    spoilt = [replace(i, disturbed=True) for i in whole[2:]]
    assert scores([("a", [*whole[:2], *spoilt])]) == []
