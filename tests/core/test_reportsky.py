"""Sun, sky, aim and air of a cook: means that can be told by hand."""

from dataclasses import replace
from datetime import timedelta

import pytest

from noonpot.core.cookreport import Look
from noonpot.core.moment import utc
from noonpot.core.reportsky import Conditions, Range, conditions
from noonpot.core.sun import SunSky, light_share

START = utc("2026-06-03T15:00:00Z")
SUN = SunSky(180.0, 60.0, 1000.0, 800.0, 100.0)


def look(minute: float, ghi: float | None = None, misaim_deg: float | None = None) -> Look:
    at = START + timedelta(minutes=minute)
    return Look(at, 20.0, ghi, SUN, sun_up=True, misaim_deg=misaim_deg)


def test_the_sky_is_all_light_over_all_clear_light() -> None:
    found = conditions([look(0, 900), look(1, 300), look(2, 300), look(3)], 30.0)
    assert found.irradiance_wm2 == Range(300.0, 500.0, 900.0)
    assert found.clear_share is not None
    assert found.clear_share.mean == pytest.approx(0.5)
    assert found.clear_wm2 == Range(1000.0, 1000.0, 1000.0)


def test_a_look_before_a_gap_stands_for_two_minutes_alone() -> None:
    found = conditions([look(0, 1000), look(60, 400), look(61, 400)], 30.0)
    assert found.irradiance_wm2 is not None
    assert found.irradiance_wm2.mean == pytest.approx((2 * 1000 + 1 * 400) / 3)


def test_the_aim_is_weighed_by_direct_light_and_time() -> None:
    found = conditions([look(0, None, 0.0), look(1, None, 40.0), look(2)], 30.0)
    assert found.misaim_deg == Range(0.0, 20.0, 40.0)
    assert found.beyond == 0.5
    assert found.let_in == pytest.approx((1 + light_share(40.0, 30.0)) / 2)


def test_what_the_night_shows_is_not_of_the_sun() -> None:
    night = replace(look(0, 500, 10), sun_up=False)
    found = conditions([night, replace(night, at=START + timedelta(minutes=1))], 30.0)
    assert found == Conditions(ambient_c=Range(20.0, 20.0, 20.0))


def test_nothing_known_is_none() -> None:
    assert conditions([], 30.0) == Conditions()
    assert conditions([Look(START)], 30.0) == Conditions()
