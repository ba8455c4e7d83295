"""The simulated cooker keeps the books of its heat, and behaves as the textbook says."""

import math
from collections.abc import Callable
from itertools import pairwise

import pytest

from noonpot.core.water import boiling_point_c, standard_pressure_pa
from noonpot_hw.cooker_physics import KINDS, POTS, Cooker, Outside, cooker
from noonpot_hw.food_physics import DenseLoad, Load, Steam, WetLoad
from noonpot_hw.materials import BREAD, POTATO, STEW, WATER, WATER_CP, material_of
from noonpot_hw.materials import KINDS as FOODS

STEP_S = 5.0
NOON = Outside(light_wm2=950.0, ambient_c=25.0, wind_ms=1.5)
NIGHT = Outside(light_wm2=0.0, ambient_c=25.0, wind_ms=1.5)
SEA = Steam(boiling_point_c(0.0), standard_pressure_pa(0.0))


def live(it: Cooker, outside: Outside, hours: float) -> float:
    """Let time pass; returns the heat that came in less what went out [J]."""
    left = 0.0
    for _ in range(round(hours * 3600 / STEP_S)):
        flows = it.step(outside, STEP_S)
        left += (flows.sun_w - flows.lost_w - flows.steam_w) * STEP_S
    return left


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("pot", POTS)
@pytest.mark.parametrize(
    "load",
    [
        pytest.param(lambda: None, id="empty"),
        pytest.param(lambda: WetLoad(STEW, 1.5, 20.0, SEA), id="stew"),
        pytest.param(lambda: DenseLoad(BREAD, 0.6, 20.0, SEA.boiling_c), id="bread"),
        pytest.param(lambda: DenseLoad(POTATO, 1.0, 20.0, SEA.boiling_c), id="potatoes"),
    ],
)
def test_no_heat_is_lost_or_made_over_a_day(
    kind: str, pot: str, load: Callable[[], Load | None]
) -> None:
    it = cooker(kind, pot, 0.4, 25.0)
    it.load = load()
    before = it.stored_j
    balance = live(it, NOON, 3.0)
    it.open_lid(60.0)
    balance += live(it, NOON, 3.0) + live(it, NIGHT, 3.0)
    turned_over = 0.5 * 0.4 * 950 * 6 * 3600
    assert it.stored_j - before == pytest.approx(balance, abs=1e-6 * turned_over)


def test_under_a_steady_sun_the_box_stands_still_where_loss_equals_gain() -> None:
    it = cooker("box", "light", 0.25, 25.0)
    live(it, NOON, 10.0)
    before = it.box_c
    live(it, NOON, 1.0)
    assert it.box_c == pytest.approx(before, abs=0.01)
    gain = KINDS["box"].efficiency * 0.25 * 950
    rise = it.box_c - NOON.ambient_c
    # Solved by hand: loss x aperture x (1 + warmth x rise)(1 + wind x 1.5) x rise = gain.
    factor = 4.0 * 0.25 * (1 + 0.05 * 1.5)
    by_hand = (math.sqrt(1 + 4 * 0.0015 * gain / factor) - 1) / (2 * 0.0015)
    assert rise == pytest.approx(by_hand, abs=0.1)
    # Stagnation of a box with a mirror, 110 to 150 °C (common practice).
    assert 110 < it.air_c < 150


def test_without_sun_a_full_pot_cools_exponentially() -> None:
    it = cooker("box", "heavy", 0.25, 80.0)
    it.load = WetLoad(WATER, 2.0, 80.0, Steam(200.0, 1.6e6))  # so far from boiling: no steam
    live(it, NIGHT, 0.5)
    above = []
    for _ in range(5):
        above.append(it.core_c - NIGHT.ambient_c)
        live(it, NIGHT, 1.0)
    ratios = [later / earlier for earlier, later in pairwise(above)]
    assert ratios == pytest.approx([ratios[0]] * 4, rel=0.03)  # the loss falls a little as it cools
    # One lump of 2 kg of water, 2070 J/K of iron and 4000 J/K of box, through 1.08 W/K of box.
    hours = -1 / math.log(ratios[-1])
    lump = (2.0 * 4186 + POTS["heavy"] + 4000 + 120) / 1.08 / 3600
    assert lump < hours < 1.6 * lump  # slower: wall and box stand in the way of the heat


def test_wind_cools() -> None:
    still, windy = (cooker("box", "light", 0.25, 25.0) for _ in range(2))
    live(still, NOON._replace(wind_ms=0.0), 4.0)
    live(windy, NOON._replace(wind_ms=6.0), 4.0)
    assert still.air_c - windy.air_c > 10


def test_a_heavy_pot_lags_a_light_one_and_holds_heat_longer() -> None:
    light, heavy = (cooker("box", pot, 0.25, 25.0) for pot in ("light", "heavy"))
    for it in (light, heavy):
        live(it, NOON, 0.75)
    assert light.air_c > heavy.air_c + 15
    for it in (light, heavy):
        live(it, NOON, 8.0)
    assert heavy.air_c == pytest.approx(light.air_c, abs=0.5)
    for it in (light, heavy):
        live(it, NIGHT, 1.0)
    assert heavy.air_c > light.air_c + 10


@pytest.mark.parametrize("elevation_m", [0.0, 1600.0, 3000.0])
def test_wet_food_stops_at_the_boiling_point_of_the_place(elevation_m: float) -> None:
    boiling_c = boiling_point_c(elevation_m)
    it = cooker("box", "light", 0.8, 25.0)
    load = WetLoad(STEW, 2.0, 20.0, Steam(boiling_c, standard_pressure_pa(elevation_m)))
    it.load = load
    live(it, NOON, 6.0)
    assert load.core_c == pytest.approx(boiling_c, abs=0.01)
    before_kg = load.water_kg
    gained = live(it, NOON, 0.5)
    # All that the sun brings and the box does not lose leaves as steam, and the cooker is left
    # without the heat of the water that is gone.
    boiled_kg = before_kg - load.water_kg
    assert 0.05 < boiled_kg < 0.3
    assert gained == pytest.approx(-boiled_kg * WATER_CP * boiling_c, abs=500)


def test_food_that_has_boiled_dry_gets_hotter_than_boiling() -> None:
    it = cooker("reflector", "light", 1.0, 25.0)
    it.load = WetLoad(STEW, 0.3, 20.0, SEA)
    live(it, NOON, 6.0)
    assert it.core_c > SEA.boiling_c + 20


def test_a_crumb_comes_to_rest_just_below_boiling_while_the_crust_gets_hotter() -> None:
    it = cooker("box", "light", 0.4, 120.0)
    loaf = DenseLoad(BREAD, 0.6, 25.0, SEA.boiling_c)
    it.load = loaf
    live(it, NOON, 2.0)
    two_hours = loaf.core_c
    live(it, NOON, 1.0)
    assert SEA.boiling_c - 3 < two_hours <= loaf.core_c < SEA.boiling_c
    assert loaf.core_c - two_hours < 1.0
    assert loaf.shells_c[-1] > SEA.boiling_c + 3


def test_near_boiling_a_crumb_needs_more_heat_for_each_kelvin() -> None:
    rises = {}
    for below_c in (10.0, 0.5):
        start_c = SEA.boiling_c - below_c
        loaf = DenseLoad(BREAD, 0.6, start_c, SEA.boiling_c)
        given = loaf.step(start_c + 20, start_c + 20, STEP_S, lid_open=False)
        rises[below_c] = loaf.shells_c[-1] - start_c
        assert (given.steam_w > 0) == (below_c < 1)
    assert 0 < rises[0.5] < rises[10.0] / 3


def test_a_crumb_that_cools_takes_no_steam_back() -> None:
    loaf = DenseLoad(BREAD, 0.6, SEA.boiling_c - 0.5, SEA.boiling_c)
    before = loaf.stored_j
    given = loaf.step(25.0, 25.0, STEP_S, lid_open=False)
    assert given.steam_w == 0
    lost = (given.from_wall_w + given.from_air_w) * STEP_S
    assert loaf.stored_j - before == pytest.approx(lost)


def test_a_dry_crust_cools_without_giving_back_the_heat_of_its_steam() -> None:
    loaf = DenseLoad(BREAD, 0.6, 25.0, SEA.boiling_c)
    for _ in range(round(6 * 3600 / STEP_S)):
        loaf.step(150.0, 150.0, STEP_S, lid_open=False)
    assert loaf.shells_c[-1] > SEA.boiling_c + 10
    cooling = []
    for _ in range(180):
        cooling.append(loaf.shells_c[-1])
        loaf.step(25.0, 25.0, STEP_S, lid_open=False)
    falls = [before - after for before, after in pairwise(cooling)]
    assert min(falls) > 0  # no rest at the boiling point on the way down


def test_opening_the_lid_is_a_sharp_dip_and_the_pot_remembers_its_heat() -> None:
    it = cooker("box", "heavy", 0.25, 25.0)
    live(it, NOON, 4.0)
    before_c, before_wall_c = it.air_c, it.wall_c
    it.open_lid(60.0)
    live(it, NOON, 60 / 3600)
    lowest_c = it.air_c
    live(it, NOON, 600 / 3600)
    assert before_c - lowest_c > 25
    assert before_wall_c - it.wall_c < 8
    assert it.air_c > lowest_c + 20


def test_an_open_lid_lets_steam_out() -> None:
    closed, opened = (WetLoad(STEW, 1.0, 85.0, SEA) for _ in range(2))
    closed.step(85.0, 85.0, STEP_S, lid_open=False)
    opened.step(85.0, 85.0, STEP_S, lid_open=True)
    assert 1.0 * 0.8 - opened.water_kg > 3 * (1.0 * 0.8 - closed.water_kg) > 0


def test_cold_food_takes_heat_from_a_hot_pot() -> None:
    it = cooker("box", "light", 0.25, 25.0)
    live(it, NOON, 2.0)
    before_c = it.wall_c
    it.load = WetLoad(WATER, 2.0, 10.0, SEA)
    live(it, NOON, 0.1)
    assert before_c - it.wall_c > 40
    assert it.core_c > 15


def test_twenty_kilograms_in_the_smallest_cooker_stay_a_quiet_simulation() -> None:
    for material in (STEW, POTATO, BREAD):
        it = cooker("reflector", "light", 0.05, 25.0)
        it.load = (
            DenseLoad(material, 20.0, 5.0, SEA.boiling_c)
            if material.dense
            else WetLoad(material, 20.0, 5.0, SEA)
        )
        live(it, NOON, 0.1)
        last = it.air_c
        for _ in range(200):
            it.step(NOON, STEP_S)
            assert abs(it.air_c - last) < 0.5
            last = it.air_c


def test_a_food_is_known_by_any_word_of_its_name() -> None:
    assert material_of("Sourdough loaf") is BREAD
    assert material_of("baked_potatoes") is POTATO
    assert material_of("rice") is material_of("") is material_of("something else") is STEW
    assert all(material_of(name) is material for name, material in FOODS.items())
