"""What everybody who cooks with the sun knows. All of it common practice, no source."""

import numpy as np
import pytest

from noonpot.core import load
from noonpot.core.estimation import FoodCase, run_food
from noonpot.core.readings import Role
from noonpot.core.trace import BIN_S
from noonpot.core.water import boiling_point_c
from noonpot_hw.food_physics import DenseLoad
from noonpot_hw.materials import BREAD
from simday import HILL, at, event, record_day, turns

DONE_C = 90.0
"""In the lower part of 88-95 °C, which a pot of 95 °C can reach."""
ABOUT_AN_HOUR, ABOUT_TWO = 55, 125
"""Minutes."""
LOADED = at("09:30")
BOILING_C = boiling_point_c(0.0)


def foreseen_minutes(mass_kg: float, pot_c: float) -> float:
    """How long the median loaf of the forecaster takes in a pot of one temperature, before any
    loaf was seen."""
    bins = np.ones(240)
    case = FoodCase(pot_c * bins, 22.0 * bins, np.nan * bins, 25.0, BOILING_C, DONE_C, wet=False)
    mean, _ = load.prior(wet=False)
    _, cores, _ = run_food(case, (mean + load.by_mass(mass_kg, wet=False))[None, :])
    return float(np.interp(DONE_C, cores[0], BIN_S / 60 * np.arange(1, 241)))


def simulated_minutes(mass_kg: float, pot_c: float) -> float:
    """The same for the dough of the simulated garden."""
    dough, minutes = DenseLoad(BREAD, mass_kg, 25.0, BOILING_C), 0
    while dough.core_c < DONE_C:
        dough.step(pot_c, pot_c, 60.0, lid_open=False)
        minutes += 1
    return minutes


@pytest.mark.parametrize("pot_c", [95.0, 100.0, 105.0, 110.0])
@pytest.mark.parametrize("mass_kg", [0.6, 0.7, 0.8])
def test_a_small_loaf_takes_one_to_two_hours_in_a_warm_pot(mass_kg: float, pot_c: float) -> None:
    assert ABOUT_AN_HOUR < foreseen_minutes(mass_kg, pot_c) < ABOUT_TWO


@pytest.mark.parametrize("pot_c", [100.0, 105.0, 110.0])
@pytest.mark.parametrize("mass_kg", [0.5, 0.6, 0.7])
def test_so_does_a_loaf_in_the_simulated_garden(mass_kg: float, pot_c: float) -> None:
    assert ABOUT_AN_HOUR < simulated_minutes(mass_kg, pot_c) < ABOUT_TWO


def test_in_a_pot_that_is_hardly_hotter_than_done_simulated_dough_takes_longer() -> None:
    """134 minutes for 0.6 kg in a pot of 95 °C: more than practice has it."""
    assert simulated_minutes(0.6, 95.0) == pytest.approx(134, abs=5)


def garden_hours(kind: str, pot: str, seed: int) -> float:
    """A loaf on a clear day, loaded into a pot that has stood in the sun since eight."""
    options = {"seed": seed, "cookers": [{"name": "box", "kind": kind, "pot": pot}]}
    script = [
        *turns("box", at("08:00"), at("15:00")),
        event("box", "load", LOADED, food="bread", mass_kg=0.6, start_c=25),
    ]
    day = record_day(options, script, at("08:00"), at("15:00"))
    cores = [(row.at, row.values[Role.CORE]) for row in day.rows if Role.CORE in row.values]
    done = next(when for when, core_c in cores if when > at("09:40") and core_c >= DONE_C)
    return (done - LOADED).total_seconds() / 3600


@pytest.mark.parametrize("kind", ["box", "reflector"])
def test_heavy_iron_makes_it_longer_but_not_more_than_twice_as_long(kind: str) -> None:
    light, heavy = (garden_hours(kind, pot, seed=4) for pot in ("light", "heavy"))
    assert 1.0 < light < 2.0
    assert 1.02 * light < heavy < 2.0 * light


def test_where_water_boils_at_95_degrees_a_loaf_can_still_be_done() -> None:
    """At 1,600 m, in a core that comes to rest a little below boiling."""
    assert 88.0 < boiling_point_c(HILL.elevation_m) - 2.0 < 95.0
