"""Advice on the aim, at the equator of an equinox: the sun turns 15 degrees an hour, exactly."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from noonpot.core.cook import Aim
from noonpot.core.pointing import PointingAdvice, advise
from noonpot.core.station import Place
from noonpot.core.sun import light_share, tolerance_deg
from skies import EQUATOR, clock_of, geometric_table, hour

ACCEPTANCE_DEG, MIN_GAIN = 30.0, 0.15
TOLERANCE_DEG = tolerance_deg(ACCEPTANCE_DEG, MIN_GAIN)
HOLDS = timedelta(hours=TOLERANCE_DEG / 15)
SECOND = timedelta(seconds=1)


def advice(
    when: datetime, aim: Aim | None = None, declination: float = 0.0, place: Place = EQUATOR
) -> PointingAdvice | None:
    return advise(place, geometric_table(place), when, ACCEPTANCE_DEG, MIN_GAIN, aim, declination)


def given(found: PointingAdvice | None) -> PointingAdvice:
    assert found is not None
    return found


def test_the_cooker_is_to_point_at_the_sun_and_the_shadow_away_from_it() -> None:
    found = given(advice(hour(9)))
    assert found.azimuth_true_deg == pytest.approx(90)
    assert found.elevation_deg == pytest.approx(45)
    assert found.shadow.azimuth_deg == pytest.approx(270)
    assert found.shadow.length == pytest.approx(1)
    assert found.present is None


@pytest.mark.parametrize(("declination", "shown"), [(10, 80), (-15, 105), (100, 350)])
def test_a_compass_that_points_east_of_north_shows_less(declination: float, shown: float) -> None:
    assert given(advice(hour(9), declination=declination)).azimuth_magnetic_deg == pytest.approx(
        shown
    )


@pytest.mark.parametrize("hours", [8, 11.9, 13])  # rising, through the zenith, sinking
def test_an_aim_at_the_sun_holds_until_it_has_moved_by_the_tolerance(hours: float) -> None:
    assert abs(given(advice(hour(hours))).holds_until - hour(hours) - HOLDS) < SECOND


def test_an_aim_ahead_holds_twice_as_long() -> None:
    found = given(advice(hour(9)))
    assert found.ahead.azimuth_deg == pytest.approx(90)
    assert found.ahead.elevation_deg == pytest.approx(45 + TOLERANCE_DEG, abs=0.01)
    assert abs(found.ahead_until - hour(9) - 2 * HOLDS) < 2 * SECOND


def test_the_present_aim_is_weighed_by_its_misaim() -> None:
    present = given(advice(hour(9), Aim(90.0, 48.0))).present
    assert present is not None
    assert present.misaim_deg == pytest.approx(3)
    assert present.light_share == light_share(present.misaim_deg, ACCEPTANCE_DEG)


def test_an_aim_ahead_of_the_sun_counts_from_where_the_sun_leaves_it() -> None:
    present = given(advice(hour(9), Aim(90.0, 48.0))).present
    assert present is not None
    assert present.holds_until is not None
    assert abs(present.holds_until - hour(9 + 3 / 15) - HOLDS) < SECOND


def test_an_aim_that_the_sun_has_left_holds_no_longer() -> None:
    present = given(advice(hour(11), Aim(90.0, 45.0))).present
    assert present is not None
    assert present.misaim_deg == pytest.approx(30)
    assert present.holds_until is None


def test_in_the_evening_everything_ends_with_the_sun() -> None:
    found = given(advice(hour(17.5), Aim(270.0, 5.0)))
    assert clock_of(found.holds_until) == clock_of(found.ahead_until) == "17:40:00"
    assert found.present is not None
    assert clock_of(found.present.holds_until) == "17:40:00"


def test_the_last_aim_ahead_is_at_the_middle_of_what_is_left() -> None:
    found = given(advice(hour(17)))
    assert found.ahead.elevation_deg == pytest.approx((15 + 5) / 2, abs=0.01)


@pytest.mark.parametrize("hours", [3, 6.2, 17.7, 22])
def test_there_is_nothing_to_point_at_while_the_sun_is_lost(hours: float) -> None:
    assert advice(hour(hours), Aim(90.0, 45.0)) is None


def test_there_is_nothing_to_point_at_behind_the_neighbours_house() -> None:
    place = replace(EQUATOR, horizon=((80.0, 30.0), (100.0, 30.0), (110.0, 0.0), (70.0, 0.0)))
    assert advice(hour(7.9), place=place) is None
    assert advice(hour(8.1), place=place) is not None


def test_a_gain_without_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="smallest gain worth a turn is 0"):
        advise(EQUATOR, geometric_table(), hour(9), ACCEPTANCE_DEG, 0.0, None, 0.0)


def test_a_gain_next_to_nothing_asks_for_a_turn_at_once() -> None:
    found = given(advise(EQUATOR, geometric_table(), hour(9), ACCEPTANCE_DEG, 1e-15, None, 0.0))
    assert found.holds_until - hour(9) < SECOND
