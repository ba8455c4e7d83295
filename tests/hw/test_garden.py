"""A simulated cooker shows what practice shows: pots, loaves, stews, clouds, turns and lids."""

from datetime import datetime, timedelta

import pytest

from noonpot.core.readings import Role
from noonpot.core.recording import Recording, format_recording, parse_recording
from noonpot.core.station import Place
from noonpot.core.water import boiling_point_c
from simday import HILL, at, column, event, first_at, record_day, turns

DAY = (at("08:00"), at("16:00"))
LOADING = at("09:30")
SEEDS = [11, 12, 13]
DONE_C = 90.0


def day(
    *,
    pot: str = "light",
    sky: object = "clear",
    seed: int = 1,
    food: str = "bread",
    every_s: float = 1200.0,
    place: Place = HILL,
    kind: str = "box",
) -> Recording:
    """A cook from eight to four: heated up empty, loaded at half past nine, turned now and then."""
    print(f"garden seed {seed}, {sky}, {pot} pot, {food}")
    options = {
        "seed": seed,
        "sky": sky,
        "cookers": [{"name": "box", "pot": pot, "kind": kind}],
        "noise_c": 0.0,
    }
    load = event("box", "load", LOADING, food=food, start_c=25)
    script = [event("box", "start", DAY[0]), *turns("box", *DAY, every_s), load]
    return record_day(options, script, *DAY, place=place)


def value(recording: Recording, role: Role, when: datetime) -> float:
    return dict(column(recording, role))[when]


def hours_to(recording: Recording, least_c: float) -> float | None:
    """Hours from loading until the core has this temperature."""
    after = [row for row in recording.rows if row.at > LOADING + timedelta(minutes=3)]
    done = first_at(Recording(recording.header, after), Role.CORE, least_c)
    return None if done is None else (done - LOADING).total_seconds() / 3600


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", ["box", "reflector"])
def test_a_loaf_in_a_light_pot_is_done_by_noon_on_a_clear_day(seed: int, kind: str) -> None:
    hours = hours_to(day(seed=seed, kind=kind), DONE_C)
    assert hours is not None
    assert 1.0 < hours < 2.5


@pytest.mark.parametrize("seed", SEEDS)
def test_a_loaf_in_heavy_iron_takes_longer_but_not_more_than_twice_as_long(seed: int) -> None:
    light, heavy = (hours_to(day(pot=pot, seed=seed), DONE_C) for pot in ("light", "heavy"))
    assert light is not None
    assert heavy is not None
    assert 1.03 * light < heavy < 2.0 * light


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("pot", ["light", "heavy"])
def test_no_loaf_is_done_under_thick_cloud(seed: int, pot: str) -> None:
    loaf = day(sky="overcast", seed=seed, pot=pot)
    assert hours_to(loaf, DONE_C) is None
    assert max(value for _, value in column(loaf, Role.CORE)) < 65


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_worse_skies_bake_slower(seed: int) -> None:
    clear, thin, broken = (
        hours_to(day(sky=sky, seed=seed), 80.0) for sky in ("clear", "thin-cloud", "broken")
    )
    assert clear is not None
    assert thin is not None
    assert clear * 1.1 < thin
    assert broken is None or clear * 1.1 < broken


def test_a_crumb_rests_just_below_boiling() -> None:
    loaf = day()
    boiling_c = boiling_point_c(HILL.elevation_m)
    rest = [v for when, v in column(loaf, Role.CORE) if when > at("13:00")]
    assert boiling_c - 2.0 < min(rest) <= max(rest) < boiling_c


@pytest.mark.parametrize("elevation_m", [0.0, 1600.0, 3000.0])
def test_a_stew_stops_at_the_boiling_point_of_the_place(elevation_m: float) -> None:
    stew = day(food="stew", place=Place(40.0, 0.0, elevation_m), kind="reflector")
    hottest = max(v for when, v in column(stew, Role.CORE) if when > at("09:40"))
    assert hottest == pytest.approx(boiling_point_c(elevation_m), abs=0.05)


def test_a_heavy_pot_heats_up_later_and_cools_down_later() -> None:
    pots = ("light", "heavy")
    options = {"cookers": [{"name": pot, "pot": pot} for pot in pots], "noise_c": 0.0}
    script = [aim for pot in pots for aim in turns(pot, at("08:00"), at("13:00"))]
    script += [event(pot, "stop", at("13:00")) for pot in pots]
    light, heavy = (record_day(options, script, *DAY, cooker=pot) for pot in pots)
    soon, late = at("08:45"), at("13:45")
    assert value(light, Role.POT, soon) > value(heavy, Role.POT, soon) + 10
    assert value(heavy, Role.POT, late) > value(light, Role.POT, late) + 10


def test_a_cooker_that_nobody_turns_loses_heat() -> None:
    turned, left = day(), day(every_s=36_000.0)
    noon, later = at("12:00"), at("15:00")
    assert value(turned, Role.POT, noon) > value(left, Role.POT, noon) + 10
    assert value(turned, Role.POT, later) > value(left, Role.POT, later) + 30
    done, late = hours_to(turned, 80.0), hours_to(left, 80.0)
    assert done is not None
    assert late is None or late > done + 0.5


def test_a_wrong_aim_is_worse_than_none_and_a_turn_brings_the_heat_back() -> None:
    options = {"cookers": [{"name": "box"}], "noise_c": 0.0}
    away = event("box", "aim", at("10:30"), azimuth=330, elevation=20)
    script = [
        *turns("box", at("08:00"), at("10:30")),
        away,
        *turns("box", at("12:00"), at("16:00")),
    ]
    recording = record_day(options, script, *DAY)
    before, lowest, after = (
        value(recording, Role.POT, at(clock)) for clock in ("10:30", "12:00", "14:00")
    )
    assert before - lowest > 50
    assert after - lowest > 50


def test_opening_the_lid_is_a_sharp_dip() -> None:
    options = {"cookers": [{"name": "box"}], "noise_c": 0.0}
    script = [*turns("box", *DAY), event("box", "lid", at("12:00"), duration_s=90)]
    pot = dict(column(record_day(options, script, *DAY, step_s=30.0), Role.POT))
    assert pot[at("12:00")] - pot[at("12:00") + timedelta(seconds=90)] > 30
    steepest = min(pot[w] - pot[w - timedelta(seconds=30)] for w in list(pot)[1:])
    assert steepest == pot[at("12:00") + timedelta(seconds=30)] - pot[at("12:00")]
    assert pot[at("12:20")] > pot[at("12:00")] - 15


def test_a_tree_on_the_horizon_takes_the_beam() -> None:
    hedge = Place(
        40.0, 0.0, 1600.0, horizon=((60.0, 0.0), (70.0, 60.0), (120.0, 60.0), (130.0, 0.0))
    )
    free, shaded = day(), day(place=hedge)
    assert value(free, Role.POT, at("09:00")) > value(shaded, Role.POT, at("09:00")) + 30
    assert value(shaded, Role.POT, at("15:00")) > 80


def test_the_sky_can_change_at_planned_times() -> None:
    sky = [{"from": "06:00", "sky": "clear"}, {"from": "11:00", "sky": "overcast"}]
    loaf = day(sky=sky)
    light = dict(column(loaf, Role.IRRADIANCE))
    assert light[at("10:50")] > 2 * light[at("11:30")]


def test_a_recorded_day_is_a_sound_recording() -> None:
    recording = day()
    again = parse_recording(format_recording(recording))
    assert again == recording
    assert again.header.cooker == "box"
    assert [row.detail["food"] for row in again.rows if row.event == "load"] == ["bread"]
