"""Figures of merit out of watched cooks: the empty cooker at its hottest, and how water warms."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from noonpot.core.evidence import Evidence
from noonpot.core.merit import (
    Warming,
    crossed_s,
    in_aperture,
    merit,
    second_merit,
    stagnation,
)
from noonpot.core.readings import Role
from noonpot_hw.cooker_physics import KINDS
from ratings import all_of, blind, evidence, water_day


@cache
def empty() -> Evidence:
    """A cook before which the box stood empty."""
    return evidence(water_day(0, empty_h=3))


def test_an_empty_cooker_that_came_to_rest_gives_the_first_figure() -> None:
    found = stagnation(empty())
    assert found is not None
    # at rest, what the light gives is lost: efficiency x light = loss x (pot - air)
    kind = KINDS["box"]
    excess = found.pot_c - found.ambient_c
    loss = kind.loss * (1 + 1.5 * kind.loss_wind) * (1 + kind.loss_warmth * excess)
    assert found.first == pytest.approx(kind.efficiency / loss, rel=0.1)
    assert found.light_wm2 > 600


def test_a_cooker_that_is_still_heating_up_gives_none() -> None:
    assert stagnation(evidence(water_day(0))) is None
    assert stagnation(evidence(water_day(0, empty_h=3, sky="overcast"))) is None


def test_both_figures_out_of_three_days() -> None:
    found = merit(all_of([water_day(n, empty_h=3) for n in range(3)]))
    assert len(found.stagnations) == len(found.warmings) == 3
    assert found.first is not None
    assert found.second is not None
    assert found.first_between is not None
    assert found.first_between.low < found.first < found.first_between.high
    # efficiency x water's share of all that warms up (box, pot, water), less what steam takes along
    shared = 1.75 * 4186 / (1.75 * 4186 + KINDS["box"].capacity * 0.25 + 540)
    assert 0.75 < found.second / (KINDS["box"].efficiency * shared) < 1.0
    assert found.grade == ("A" if found.first >= 0.12 else "B" if found.first >= 0.11 else None)


def test_without_an_empty_cooker_the_first_is_guessed_and_has_no_grade() -> None:
    found = merit([evidence(water_day(0))], guessed_first=0.1)
    assert (found.first, found.first_guessed, found.grade) == (0.1, True, None)
    assert found.second is not None
    assert merit([evidence(water_day(0))]).second is None


def test_high_up_the_water_is_followed_only_to_below_boiling() -> None:
    (warming,) = merit([empty()]).warmings
    assert warming.to_c == pytest.approx(89.65, abs=0.01)  # boiling at 1600 m less 5 K


def test_nothing_weighed_or_no_aperture_gives_no_second_figure() -> None:
    assert merit([evidence(water_day(0, food="bread", mass_kg=0.6))]).warmings == ()
    nobody = replace(empty(), aperture_m2=None)
    assert merit([nobody]).warmings == ()
    assert merit([evidence(blind(water_day(0), Role.CORE))]).warmings == ()


def test_a_lid_lifted_on_the_way_spoils_the_warming() -> None:
    assert merit([evidence(water_day(0, lid=True))]).warmings == ()


def test_light_is_level_for_a_cooker_that_points_straight_up() -> None:
    at_s = empty().log.loads[0].at_s
    shone = empty().light(at_s, at_s + 600)
    assert shone is not None
    assert in_aperture(empty(), shone, at_s) == shone.across_wm2
    empty().log.aims.append((at_s, 180.0, 90.0))
    try:
        assert in_aperture(empty(), shone, at_s) == shone.level_wm2
    finally:
        empty().log.aims.pop()


def test_what_the_light_could_never_do_has_no_second_figure() -> None:
    dim = Warming(0.0, 60.0, 90.0, 3600.0, 8000.0, 25.0, 400.0, True, 8.0)
    assert second_merit(0.12, dim, 0.25) is None


def test_a_crossing_lies_between_two_readings() -> None:
    times, values = np.array([0.0, 60.0, 120.0]), np.array([50.0, 58.0, 62.0])
    assert crossed_s(times, values, 60.0) == 90.0
    assert crossed_s(times, values, 40.0) is None
    assert crossed_s(times, values, 70.0) is None
