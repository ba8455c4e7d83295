"""Angles, the day table, horizon and shadow, against geometry that can be done by hand."""

import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.station import Place
from noonpot.core.sun import (
    DayTable,
    SunSky,
    angle_between,
    horizon_elevation,
    light_share,
    shadow,
    solar_date,
    solar_midnight,
    sun_is_up,
    sun_lost_at,
    tolerance_deg,
)
from skies import DAY, EQUATOR, clock_of, geometric_table, hour, sun_at

HAWAII, PATAGONIA = Place(20.0, -156.0, 0.0), Place(-45.0, -70.0, 0.0)


# --- the day table


def test_a_row_is_given_back_as_it_stands() -> None:
    table = geometric_table()
    sky = table.at(hour(9))
    assert (sky.azimuth_deg, sky.elevation_deg) == pytest.approx((90, 45))
    assert sky.ghi == pytest.approx(900 * math.sin(math.radians(45)) + 100)
    assert (sky.dni, sky.dhi) == (900, 100)


@pytest.mark.parametrize(
    ("place", "tilt"),
    [
        (HAWAII, 20.0),  # the sun races through the zenith
        (PATAGONIA, -23.4),  # the azimuth falls through 0 to 360 at noon
        (Place(65.0, 20.0, 0.0), 23.4),  # the sun grazes the northern horizon
    ],
)
def test_between_rows_the_sun_is_where_geometry_puts_it(place: Place, tilt: float) -> None:
    table = geometric_table(place, tilt)
    times_s = table.start_s + np.linspace(0, 86400, 3001)
    east, north, up = sun_at(times_s, place, tilt)
    path = table.at_many(times_s)
    azimuth, elevation = np.radians(path.azimuth_deg), np.radians(path.elevation_deg)
    found = np.cos(elevation) * np.array([np.sin(azimuth), np.cos(azimuth), np.tan(elevation)])
    misses_deg = np.degrees(np.linalg.norm(found - np.array([east, north, up]), axis=0))
    assert misses_deg.max() < 1e-3


def test_the_azimuth_between_359_and_1_degree_is_north_not_south() -> None:
    rows = {"azimuth_deg": np.array([359.0, 1.0]), "elevation_deg": np.array([50.0, 50.0])}
    dark = np.zeros(2)
    table = DayTable(hour(12).timestamp(), 120.0, **rows, ghi=dark, dni=dark, dhi=dark)
    azimuth = table.at(hour(12) + timedelta(minutes=1)).azimuth_deg
    assert math.cos(math.radians(azimuth)) == pytest.approx(1)


def test_irradiance_is_interpolated_along_a_straight_line() -> None:
    flat = np.zeros(3)
    rising = np.array([0.0, 100.0, 300.0])
    table = DayTable(hour(8).timestamp(), 60.0, flat, flat, rising, 2 * rising, 3 * rising)
    sky = table.at(hour(8) + timedelta(seconds=75))
    assert (sky.ghi, sky.dni, sky.dhi) == pytest.approx((150, 300, 450))


def test_many_instants_and_one_instant_agree() -> None:
    table = geometric_table(HAWAII, 20.0)
    times = [hour(h, HAWAII) for h in (0, 7.01, 12.3, 23.99, 24)]
    path = table.at_many(np.array([when.timestamp() for when in times]))
    for row, when in enumerate(times):
        assert SunSky(*(float(column[row]) for column in path)) == table.at(when)


def test_a_looked_up_sky_is_made_of_plain_numbers_that_json_can_write() -> None:
    sky = geometric_table().at(hour(10))
    assert json.loads(json.dumps([sky.azimuth_deg, sky.ghi])) == [sky.azimuth_deg, sky.ghi]
    assert type(sky.elevation_deg) is float


@pytest.mark.parametrize("hours", [-0.01, 24.01, 24 * 365])
def test_a_time_outside_the_table_is_refused_with_both_its_ends(hours: float) -> None:
    with pytest.raises(ValueError, match=r"runs from 2026-03-20T00:00:00Z to 2026-03-21T00:00:00Z"):
        geometric_table().at(hour(hours))


def test_one_stray_time_among_many_is_named() -> None:
    times_s = np.array([hour(3).timestamp(), hour(30).timestamp()])
    with pytest.raises(ValueError, match=r"2026-03-21T06:00:00Z is outside"):
        geometric_table().at_many(times_s)


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        geometric_table().at(hour(12).replace(tzinfo=None))


def test_a_table_that_cannot_be_interpolated_is_refused() -> None:
    table = geometric_table()
    with pytest.raises(ValueError, match=r"columns of \[3, 721\] rows"):
        replace(table, ghi=np.zeros(3))
    with pytest.raises(ValueError, match="step of 0 s"):
        replace(table, step_s=0)


# --- the solar day


@given(
    st.datetimes(datetime(1970, 1, 2), datetime(2100, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
    st.floats(-180, 180),
)
def test_every_moment_lies_in_the_24_hours_of_its_solar_date(when: datetime, lon: float) -> None:
    into_the_day = when - solar_midnight(solar_date(when, lon), lon)
    assert timedelta(seconds=-1e-3) <= into_the_day <= timedelta(hours=24, seconds=1e-3)


@pytest.mark.parametrize("longitude", [-180.0, -157.8, 0.0, 7.6, 170.5, 180.0])
def test_noon_has_the_date_it_has_on_the_spot(longitude: float) -> None:
    noon = solar_midnight(date(2026, 6, 3), longitude) + timedelta(hours=12)
    assert solar_date(noon, longitude) == date(2026, 6, 3)
    assert abs(noon - datetime(2026, 6, 3, 12, tzinfo=UTC)) <= timedelta(hours=12)


def test_one_table_holds_the_whole_afternoon_where_utc_changes_its_date_at_noon() -> None:
    place = Place(-17.0, 178.0, 0.0)
    table = geometric_table(place)
    morning, evening = hour(8, place), hour(17, place)
    assert morning.date() != evening.date()
    assert table.at(morning).elevation_deg > 0 < table.at(evening).elevation_deg


# --- misaim and what it costs


@pytest.mark.parametrize(
    ("aim", "sun", "degrees"),
    [
        ((123.0, 45.0), (123.0, 45.0), 0),
        ((350.0, 0.0), (10.0, 0.0), 20),  # across north
        ((0.0, 30.0), (180.0, 30.0), 120),  # over the zenith, not around it
        ((10.0, 90.0), (250.0, 90.0), 0),  # straight up has no azimuth
        ((90.0, 10.0), (270.0, -10.0), 180),  # the opposite
        ((100.0, 40.0), (100.0, 40.001), 0.001),
    ],
)
def test_misaim_is_the_angle_in_space(
    aim: tuple[float, float], sun: tuple[float, float], degrees: float
) -> None:
    assert angle_between(*aim, *sun) == pytest.approx(degrees, abs=1e-5)
    assert angle_between(*sun, *aim) == pytest.approx(degrees, abs=1e-5)


def test_misaim_of_many_suns_agrees_with_one_at_a_time() -> None:
    azimuths, elevations = np.array([0.0, 90.0, 359.0]), np.array([10.0, 80.0, -5.0])
    one_by_one = [angle_between(45, 45, *sun) for sun in zip(azimuths, elevations, strict=True)]
    assert angle_between(45, 45, azimuths, elevations).tolist() == one_by_one


@pytest.mark.parametrize(
    ("misaim", "traced"),
    [
        (0, 1),
        (5, 0.921),
        (10, 0.835),
        (15, 0.742),
        (20, 0.643),
        (25, 0.540),
        (30, 0.433),
        (40, 0.285),
    ],
)
def test_light_share_follows_the_traced_rays(misaim: float, traced: float) -> None:
    """Source: Monte-Carlo ray-tracing of our own: square aperture, four ideal mirrors, flare 60°,
    length = side, misaim toward one mirror."""
    assert light_share(misaim, 30.0) == pytest.approx(traced, abs=0.04)


def test_at_the_acceptance_angle_the_reflectors_give_half() -> None:
    for acceptance in (10.0, 30.0, 60.0):
        cosine = math.cos(math.radians(acceptance))
        assert light_share(acceptance, acceptance) == pytest.approx(cosine / 2)


def test_the_back_of_a_cooker_gets_no_light() -> None:
    assert light_share(90.0, 30.0) == pytest.approx(0, abs=1e-12)
    assert light_share(150.0, 30.0) == 0


@given(st.floats(5, 80), st.floats(0.01, 2))
def test_at_the_tolerance_a_turn_gains_just_what_it_should(acceptance: float, gain: float) -> None:
    tolerance = tolerance_deg(acceptance, gain)
    assert 1 / light_share(tolerance, acceptance) == pytest.approx(1 + gain, rel=1e-4)


def test_a_wider_cooker_and_a_more_patient_cook_are_turned_later() -> None:
    assert tolerance_deg(20, 0.15) < tolerance_deg(30, 0.15) < tolerance_deg(30, 0.3)


@pytest.mark.parametrize(("acceptance", "gain"), [(30, 0), (30, -0.1), (0, 0.15), (30, math.nan)])
def test_a_tolerance_without_sense_is_refused(acceptance: float, gain: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        tolerance_deg(acceptance, gain)


# --- horizon and shadow

HOUSE = ((80.0, 0.0), (90.0, 30.0), (120.0, 30.0), (130.0, 0.0))


@pytest.mark.parametrize(
    ("horizon", "azimuth", "elevation"),
    [
        ((), 123.0, 0),
        (HOUSE, 85.0, 15),
        (HOUSE, 100.0, 30),
        (HOUSE, 10.0, 0),
        (((350.0, 20.0), (10.0, 10.0)), 0.0, 15),  # across north
        (((350.0, 20.0), (10.0, 10.0)), 180.0, 15),  # and the long way round
        (((10.0, 10.0), (350.0, 20.0)), 355.0, 17.5),  # the order of corners is free
        (((200.0, 12.0),), 20.0, 12),  # one corner is a wall all around
    ],
)
def test_the_horizon_is_straight_between_its_corners(
    horizon: tuple[tuple[float, float], ...], azimuth: float, elevation: float
) -> None:
    assert horizon_elevation(horizon, azimuth) == pytest.approx(elevation)


@pytest.mark.parametrize(
    ("azimuth", "elevation", "up"),
    [(200.0, 5.1, True), (200.0, 4.9, False), (100.0, 29.0, False), (100.0, 31.0, True)],
)
def test_the_sun_is_up_above_the_house_and_above_five_degrees(
    azimuth: float, elevation: float, up: bool
) -> None:
    assert sun_is_up(SunSky(azimuth, elevation, 0, 0, 0), HOUSE) is up


def test_the_sun_is_lost_at_five_degrees_over_a_free_horizon() -> None:
    lost = sun_lost_at(geometric_table(), EQUATOR, hour(9))
    assert clock_of(lost) == "17:40:00"  # 6 h after noon it sets; 5 degrees are 20 minutes


def test_the_sun_is_lost_behind_the_trees_in_the_west() -> None:
    place = replace(EQUATOR, horizon=((180.0, 0.0), (260.0, 45.0), (280.0, 45.0), (360.0, 0.0)))
    assert clock_of(sun_lost_at(geometric_table(), place, hour(9))) == "15:00:00"


def test_a_tree_that_hides_the_sun_for_an_hour_does_not_end_the_day() -> None:
    place = replace(PATAGONIA, horizon=((350.0, 0.0), (355.0, 80.0), (5.0, 80.0), (10.0, 0.0)))
    table = geometric_table(place)
    noon = hour(12, place)
    assert not sun_is_up(table.at(noon), place.horizon)
    assert sun_lost_at(table, place, noon) == sun_lost_at(table, PATAGONIA, noon)


def test_once_lost_the_sun_is_not_lost_again() -> None:
    assert sun_lost_at(geometric_table(), EQUATOR, hour(17.7)) is None
    assert sun_lost_at(geometric_table(), EQUATOR, hour(24)) is None


def test_the_midnight_sun_lasts_to_the_end_of_the_table_and_the_polar_night_has_none() -> None:
    place = Place(78.0, 15.6, 0.0)
    assert sun_lost_at(geometric_table(place, 23.4), place, hour(1, place)) == hour(24, place)
    assert sun_lost_at(geometric_table(place, -23.4), place, hour(1, place)) is None


def test_asking_for_the_end_of_another_day_is_refused() -> None:
    with pytest.raises(ValueError, match="ask for the table of that time's solar date"):
        sun_lost_at(geometric_table(), EQUATOR, hour(12, day=DAY + timedelta(days=1)))


def test_the_shadow_points_away_from_the_sun_and_grows_as_it_sinks() -> None:
    assert shadow(90.0, 45.0).azimuth_deg == 270
    assert shadow(300.0, 45.0).azimuth_deg == 120
    assert shadow(90.0, 30.0).length == pytest.approx(math.sqrt(3))
    assert shadow(90.0, 90.0).length == pytest.approx(0)


def test_there_is_no_shadow_without_the_sun() -> None:
    with pytest.raises(ValueError, match=r"-0\.5"):
        shadow(90.0, -0.5)
