"""Weather out of a seed: the skies are what their names say, and never the same by chance."""

from datetime import datetime, timedelta
from itertools import pairwise
from statistics import mean, pstdev

import pytest

from noonpot.core.sun import SunSky
from noonpot_hw.weather import SKIES, Change, Weather, sky_at
from simday import at

NOON_SUN = SunSky(azimuth_deg=180.0, elevation_deg=70.0, ghi=1000.0, dni=980.0, dhi=79.1)
LOOK_S = 30.0
SEEDS = [1, 2, 3, 4, 5]


def weather(seed: int, *plan: Change, wind_ms: float = 2.0, longitude: float = 0.0) -> Weather:
    print(f"weather seed {seed}")
    return Weather(seed, plan, ambient_c=22.0, wind_ms=wind_ms, longitude=longitude)


def hours_of(it: Weather, hours: float, start: datetime) -> list[float]:
    """The clear-sky index, look by look, under a sun that stands still."""
    indices = []
    for look in range(round(hours * 3600 / LOOK_S)):
        it.step(start + timedelta(seconds=look * LOOK_S), LOOK_S)
        indices.append(it.light(NOON_SUN).ghi / NOON_SUN.ghi)
    return indices


def changes(indices: list[float]) -> int:
    """How often cloud and sun take turns."""
    sides = [index > 0.75 for index in indices]
    return sum(a != b for a, b in pairwise(sides))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_clear_sky_stays_clear_and_calm(seed: int) -> None:
    indices = hours_of(weather(seed, Change(0, "clear")), 8, at("08:00"))
    assert min(indices) > 0.9
    assert max(indices) <= 1.0
    assert pstdev(indices) < 0.03


@pytest.mark.parametrize("seed", SEEDS)
def test_an_overcast_sky_has_no_beam_and_little_light(seed: int) -> None:
    it = weather(seed, Change(0, "overcast"))
    indices = hours_of(it, 8, at("08:00"))
    assert 0.07 < min(indices) <= max(indices) < 0.5
    assert it.light(NOON_SUN).dni == 0.0


@pytest.mark.parametrize("seed", SEEDS)
def test_thin_cloud_dims_without_sharp_edges(seed: int) -> None:
    indices = hours_of(weather(seed, Change(0, "thin-cloud")), 8, at("08:00"))
    assert 0.65 < mean(indices) < 0.92
    assert max(abs(b - a) for a, b in pairwise(indices)) < 0.1


@pytest.mark.parametrize("seed", SEEDS)
def test_a_broken_sky_takes_turns_between_sun_and_cloud(seed: int) -> None:
    indices = hours_of(weather(seed, Change(0, "broken")), 8, at("08:00"))
    assert 20 < changes(indices) < 150
    assert min(indices) < 0.55
    assert max(indices) > 0.9
    assert 0.3 < sum(index < 0.75 for index in indices) / len(indices) < 0.6


def test_the_same_seed_is_the_same_weather_and_another_is_another() -> None:
    first, again, other = (
        hours_of(weather(seed, Change(0, "broken")), 2, at("08:00")) for seed in (7, 7, 8)
    )
    assert first == again
    assert first != other


def test_a_front_changes_the_sky_within_minutes() -> None:
    it = weather(3, Change(0, "clear"), Change(10 * 3600 + 40 * 60, "overcast"))
    assert min(hours_of(it, 0.65, at("10:00"))) > 0.9
    indices = hours_of(it, 1 / 3, at("10:40"))
    assert indices[2] > 0.6
    assert indices[-1] < 0.45
    assert all(b <= a + 0.02 for a, b in pairwise(indices))


def test_after_midnight_of_utc_the_last_sky_of_the_day_before_still_holds() -> None:
    plan = [Change(13 * 3600, "clear"), Change(18 * 3600, "broken")]
    assert sky_at(plan, at("02:00")) == "broken"
    assert sky_at(plan, at("13:00")) == "clear"
    assert sky_at(plan, at("17:59")) == "clear"
    assert sky_at(reversed_plan := plan[::-1], at("19:00")) == "broken"
    assert sky_at(reversed_plan, at("13:30")) == "clear"


@pytest.mark.parametrize("longitude", [0.0, -105.0, 170.0])
def test_the_afternoon_is_warmest_by_the_sun_of_the_place(longitude: float) -> None:
    it = weather(1, Change(0, "clear"), longitude=longitude)
    by_hour = {}
    for hour in range(24):
        utc = at("00:00") + timedelta(hours=hour - longitude / 15)
        it.step(utc, LOOK_S)
        by_hour[hour] = it.ambient_c
    assert max(by_hour, key=by_hour.__getitem__) == 15
    assert mean(by_hour.values()) == pytest.approx(22.0)
    assert by_hour[15] - by_hour[3] == pytest.approx(8.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_wind_comes_in_gusts_around_its_mean(seed: int) -> None:
    it = weather(seed, Change(0, "clear"), wind_ms=3.0)
    winds = []
    for look in range(2000):
        it.step(at("00:00") + timedelta(seconds=look * LOOK_S), LOOK_S)
        winds.append(it.wind_ms)
    assert min(winds) >= 0
    assert mean(winds) == pytest.approx(3.0, abs=0.5)
    assert 0.6 < pstdev(winds) < 1.5


@pytest.mark.parametrize("sky", SKIES)
def test_global_light_is_the_beam_on_level_ground_and_the_diffuse(sky: str) -> None:
    it = weather(9, Change(0, sky))
    hours_of(it, 0.5, at("09:00"))
    light = it.light(NOON_SUN)
    assert light.ghi == pytest.approx(light.dni * 0.93969 + light.dhi, rel=1e-4)  # sin 70°
    dark = it.light(SunSky(300.0, -8.0, 0.0, 0.0, 0.0))
    assert dark == (0.0, 0.0, 0.0)
