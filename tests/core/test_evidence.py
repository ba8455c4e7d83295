"""What one cook can prove: values between readings, notes, light across the beam."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from noonpot.core import light
from noonpot.core.cook import EventKind
from noonpot.core.crosslight import across_beam
from noonpot.core.evidence import Evidence, LightFrom
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from ratings import blind, evidence, water_day
from simday import HILL, JUNE, SimpleSun, at

NOON = at("12:00").timestamp()


@cache
def warmed() -> Evidence:
    return evidence(water_day(0))


def read_every(minutes: int) -> Evidence:
    """The same day with its rows further apart."""
    day = water_day(0)
    rows = [r for i, r in enumerate(day.rows) if r.event is not None or i % minutes == 0]
    return evidence(replace(day, rows=rows))


def noted(text: str, **detail: str) -> Evidence:
    row = Row(at("11:00"), {}, EventKind.NOTE, detail or {"text": text})
    day = water_day(0)
    return evidence(Recording(day.header, sorted([*day.rows, row], key=lambda r: r.at)))


def test_a_value_is_told_by_the_readings_around_it() -> None:
    dense, sparse = warmed().value(Role.CORE, NOON + 30), read_every(7).value(Role.CORE, NOON + 30)
    assert dense is not None
    assert sparse == pytest.approx(dense, abs=0.15)


def test_ten_minutes_between_readings_are_the_most() -> None:
    assert read_every(10).value(Role.CORE, NOON + 200) is not None
    assert read_every(13).value(Role.CORE, NOON + 200) is None
    assert read_every(13).mean(Role.AMBIENT, NOON, NOON + 3600) is None
    assert warmed().mean(Role.AMBIENT, NOON, NOON + 600) == pytest.approx(27.5, abs=1)


def test_before_the_first_reading_and_after_the_last_nothing_is_known() -> None:
    assert warmed().value(Role.POT, NOON - 86400) is None
    assert warmed().value(Role.POT, NOON + 86400) is None


def test_a_note_holds_until_the_next_one() -> None:
    cook = noted("wind_ms: 1.5")
    assert cook.number("wind_ms", NOON - 7200) is None
    assert cook.number("wind_ms", NOON) == 1.5
    assert noted("", wind_ms="2").number("wind_ms", NOON) == 2.0
    assert noted("wind_ms: strong").number("wind_ms", NOON) is None


def test_free_words_make_a_key_as_well() -> None:
    assert noted("Set-up: bag").told("set-up", NOON) == "bag"
    assert noted("rebuilt").told("rebuilt", NOON) == ""
    assert noted("rebuilt").told("set-up", NOON) is None


def test_light_comes_from_the_sensor_and_says_how_much_it_moved() -> None:
    shone = warmed().light(NOON, NOON + 600)
    assert shone is not None
    assert shone.source is LightFrom.SENSOR
    assert shone.spread_wm2 is not None
    assert shone.spread_wm2 < 30
    few = read_every(9).light(NOON + 60, NOON + 660)
    assert few is None or few.spread_wm2 is None


def test_without_sensor_and_clear_sky_there_is_no_light() -> None:
    cook = evidence(blind(water_day(0), Role.IRRADIANCE))
    assert cook.light(NOON, NOON + 600) is None
    clear = cook.understood(np.ones(31)).light(NOON, NOON + 600)
    assert clear is not None
    assert (clear.source, clear.spread_wm2) == (LightFrom.CLEAR_SKY, None)
    assert cook.understood(np.full(31, np.nan)).light(NOON, NOON + 600) is None


def test_across_the_beam_a_high_sun_gives_little_more_than_on_level_ground() -> None:
    times = np.array([NOON, NOON - 5 * 3600])
    sky = light.clear_sky([SimpleSun().day(HILL, JUNE)], (), times)
    across = across_beam(np.ones(2), sky, times)
    level = sky.ghi
    assert 1.0 < across[0] / level[0] < 1.2
    assert across[1] / level[1] > 1.5  # the sun stands at 27°
    assert across[0] > sky.dni[0]


def test_a_low_or_hidden_sun_tells_nothing_across_the_beam() -> None:
    times = np.array([at("05:30").timestamp(), NOON])
    table = SimpleSun().day(HILL, JUNE)
    assert np.isnan(across_beam(np.ones(2), light.clear_sky([table], (), times), times)[0])
    wall = ((0.0, 80.0), (359.0, 80.0))
    assert np.isnan(across_beam(np.ones(2), light.clear_sky([table], wall, times), times)).all()


def test_a_lid_disturbs_what_comes_within_six_minutes_after_it() -> None:
    lid = evidence(water_day(0, lid=True))
    opened = (at("11:45") + timedelta()).timestamp()
    assert lid.disturbed(opened - 60, opened + 60)
    assert lid.disturbed(opened + 350, opened + 900)
    assert not lid.disturbed(opened + 360, opened + 960)
