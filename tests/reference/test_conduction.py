"""Heat in food against the exact series, and how far a model of four stages can follow it."""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from noonpot.core import load
from noonpot.core.load import FoodConstants
from noonpot_hw.food_physics import DenseLoad
from noonpot_hw.materials import BREAD, Material
from reference.conduction_series import (
    Floats,
    Shape,
    fourier_until,
    left_in_the_middle,
    terms,
)

# First root and coefficient of wall, cylinder and sphere by Biot number. Source: Incropera and
# others, 6th edition, table 5.1, evaluated anew and rounded as it is printed there.
TABLE_5_1 = [
    (0.1, (0.3111, 1.0161), (0.4417, 1.0246), (0.5423, 1.0298)),
    (1.0, (0.8603, 1.1191), (1.2558, 1.2071), (1.5708, 1.2732)),
    (5.0, (1.3138, 1.2402), (1.9898, 1.5029), (2.5704, 1.7870)),
    (100.0, (1.5552, 1.2731), (2.3809, 1.6015), (3.1102, 1.9990)),
]
# Bi, Fo, share of the first difference that is left in the middle of a sphere: 60 terms, evaluated
# apart from this file.
SPHERES = [
    (1.0, 0.05, 0.996869),
    (1.0, 0.2, 0.772312),
    (1.0, 0.5, 0.370777),
    (1.0, 1.0, 0.107977),
    (10.0, 0.2, 0.382664),
    (0.5, 0.5, 0.580044),
]
# Dry and without vapour, so that nothing but conduction is at work.
PLAIN = Material(0.5, 1080.0, 3600.0, water=0.0)
STEEL_BALL = Material(20.0, 3000.0, 1000.0, water=0.0)
DONE_LEFT = 0.13
"""What is left of the first difference in a loaf that goes from 25 to 90 °C in a pot of 100 °C."""
LOAVES = [0.5, 1.0, 2.0, 3.0, 5.0]
"""Biot numbers of loaves: 0.3 to 1 kg as balls, films of 8 to 30 W/(m² K) (common practice)."""


@pytest.mark.parametrize(("biot", "wall", "cylinder", "sphere"), TABLE_5_1)
def test_the_series_written_out_here_is_that_of_the_book(
    biot: float,
    wall: tuple[float, float],
    cylinder: tuple[float, float],
    sphere: tuple[float, float],
) -> None:
    for shape, expected in zip(Shape, (wall, cylinder, sphere), strict=True):
        roots, coefficients = terms(shape, biot)
        assert (roots[0], coefficients[0]) == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize(("biot", "fourier", "left"), SPHERES)
def test_the_series_written_out_here_gives_the_values_computed_elsewhere(
    biot: float, fourier: float, left: float
) -> None:
    assert left_in_the_middle(Shape.SPHERE, biot, fourier) == pytest.approx(left, abs=1e-6)


def test_the_series_solves_the_worked_example_of_the_plane_wall() -> None:
    """Source: Incropera and others, 6th edition, example 5.4: 42.9 °C at the middle of a steel wall
    after 8 min, by the first term and a root read from the table; the exact roots give 43.0."""
    biot, fourier = 500 * 0.04 / 63.9, 63.9 / (7832 * 434) * 480 / 0.04**2
    assert (biot, fourier) == pytest.approx((0.313, 5.64), abs=0.001)
    middle_c = 60 - 80 * left_in_the_middle(Shape.WALL, biot, fourier)
    assert middle_c == pytest.approx(42.9, abs=0.15)


def ball(
    radius_m: float, film: float, start_c: float = 20.0, material: Material = PLAIN
) -> DenseLoad:
    """In one piece, all heat from the air; it boils where nothing here can get."""
    mass_kg = 4 / 3 * math.pi * radius_m**3 * material.density
    return DenseLoad(material, mass_kg, start_c, 1000.0, wall_film=0.0, air_film=film)


def live(load: DenseLoad, air_c: float, seconds: float, step_s: float = 5.0) -> float:
    """Let it be for a while in air of one temperature; returns the heat it took [J]."""
    steps = round(seconds / step_s)
    part_s = seconds / steps
    heats = (load.step(air_c, air_c, part_s, lid_open=False) for _ in range(steps))
    return sum(given.from_air_w * part_s for given in heats)


def test_the_simulated_food_solves_the_worked_example_of_the_sphere() -> None:
    """Source: Incropera and others, 6th edition, example 5.5: a ball of 5 mm cools from 400 to
    335 °C in air within 94 s, then to 50 °C at its middle in water within 3.1 s, by values read
    from the table; the exact roots give 2.98 s."""
    it = ball(0.005, film=10.0, start_c=400.0, material=STEEL_BALL)
    live(it, 20.0, 94.0, step_s=0.5)
    assert it.core_c == pytest.approx(335.0, abs=0.7)
    it = ball(0.005, film=6000.0, start_c=335.0, material=STEEL_BALL)
    live(it, 20.0, 2.976, step_s=0.01)
    assert it.core_c == pytest.approx(50.0, abs=0.5)


@pytest.mark.parametrize(("biot", "fourier", "left"), SPHERES)
def test_the_middle_of_a_sphere_warms_as_the_exact_series_says(
    biot: float, fourier: float, left: float
) -> None:
    radius_m = 0.05
    it = ball(radius_m, film=biot * PLAIN.conductivity / radius_m)
    diffusivity = PLAIN.conductivity / (PLAIN.density * PLAIN.capacity)
    live(it, 90.0, fourier * radius_m**2 / diffusivity)
    assert (90.0 - it.core_c) / 70.0 == pytest.approx(left, abs=0.004)


def test_a_potato_in_still_hot_air_takes_the_computed_time() -> None:
    # Radius 35 mm, 20 to 95 °C in air of 100 °C at 15 W/(m² K): 187 min by the same series.
    it = ball(0.035, film=15.0)
    live(it, 100.0, 187 * 60)
    assert it.core_c == pytest.approx(95.0, abs=0.15)


def test_a_potato_in_boiling_water_takes_the_computed_time() -> None:
    # The same potato at 500 W/(m² K): 59 min.
    it = ball(0.035, film=500.0)
    live(it, 100.0, 59 * 60)
    assert it.core_c == pytest.approx(95.0, abs=0.4)


def test_all_heat_that_enters_is_found_inside() -> None:
    it = ball(0.05, film=15.0)
    before = it.stored_j
    heat = live(it, 120.0, 3600)
    assert it.stored_j - before == pytest.approx(heat, rel=1e-9)
    assert heat > 10_000


def test_a_longer_step_changes_little() -> None:
    quick, slow = ball(0.02, film=30.0), ball(0.02, film=30.0)
    live(quick, 100.0, 900, step_s=1.0)
    live(slow, 100.0, 900, step_s=60.0)
    assert slow.core_c == pytest.approx(quick.core_c, abs=0.2)


def ball_in_stages(biot: float) -> tuple[float, float]:
    """The rates from pot to food and between the outermost stages of a ball of radius 1 and
    diffusivity 1: 3 Bi through the film, half the outer shell to its middle (r = 0.9), and 3 r² / d
    from there over the first face (r = 0.794) with d = 0.21.
    """
    return 1 / (1 / (3 * biot) + (1 / 0.9 - 1) / 3), 9.0


def plain(outer: Floats, inner: Floats) -> FoodConstants:
    """Nothing but conduction."""
    no = np.zeros_like(outer)
    return FoodConstants(outer, inner, no, no, no, no)


def left_in_stages(outer: Floats, inner: Floats, times: Floats) -> Floats:
    """What is left in the core at each of n even times, shape (n, members)."""
    food, ones = plain(outer, inner), np.ones_like(outer)
    stages, left = load.start(0 * ones), []
    for _ in times:
        stages, _ = load.step(stages, food, ones, 1000.0, float(times[0]))
        left.append(1 - stages[-1])
    return np.array(left)


def lateness(biot: float, steps: int, lefts: Sequence[float] = (DONE_LEFT,)) -> list[float]:
    """The times four stages need until so much is left, over those of the exact sphere; in this
    many steps until it is done."""
    times = fourier_until(Shape.SPHERE, biot, DONE_LEFT) / steps * np.arange(1.0, 1.2 * steps)
    outer, inner = (np.array([rate]) for rate in ball_in_stages(biot))
    core = left_in_stages(outer, inner, times)[:, 0]
    ours = np.interp(-np.array(lefts), -core, times)
    return [t / fourier_until(Shape.SPHERE, biot, x) for t, x in zip(ours, lefts, strict=True)]


@pytest.mark.parametrize("biot", LOAVES)
def test_four_stages_bring_a_loaf_to_its_end_within_one_percent(biot: float) -> None:
    """On short steps. They are early at first: the heat of a true sphere sets out, and that of the
    stages arrives. Figures found for Bi 0.5, 1, 2, 3, 5: done at 1.003, 1.005, 1.007, 1.008, 1.008
    of the exact time; half way at 0.99, 0.98, 0.98, 0.97, 0.97; a fifth at 0.96, 0.94, 0.92, 0.91,
    0.90."""
    done, half, fifth = lateness(biot, 800, (DONE_LEFT, 0.5, 0.8))
    assert done == pytest.approx(1.005, abs=0.005)
    assert 0.965 < half < 0.995
    assert 0.89 < fifth < 0.97


@pytest.mark.parametrize(("step_s", "most"), [(120.0, 0.03), (300.0, 0.06)])
@pytest.mark.parametrize("mass_kg", [0.4, 0.8])
def test_the_long_steps_of_a_forecast_make_a_loaf_a_little_late(
    step_s: float, most: float, mass_kg: float
) -> None:
    """An implicit step smears out what it walks over: of two hours, 120 s cost 2 to 3 %, 300 s 4 to
    6 %. What is learnt on such steps has it in its constants."""
    radius_m = math.cbrt(3 * mass_kg / BREAD.density / (4 * math.pi))
    biot = 16.0 * radius_m / BREAD.conductivity
    diffusivity = BREAD.conductivity / (BREAD.density * BREAD.capacity)
    needed_s = fourier_until(Shape.SPHERE, biot, DONE_LEFT) * radius_m**2 / diffusivity
    assert 5000 < needed_s < 10_000
    (done,) = lateness(biot, round(needed_s / step_s))
    assert -0.01 < done - 1 < most


@pytest.mark.parametrize("biot", [0.5, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("shape", Shape)
def test_with_constants_of_its_own_any_shape_is_followed_within_two_kelvins(
    shape: Shape, biot: float
) -> None:
    """A flat tin, a long loaf, a round one: rates can be found with which the core never strays by
    more than 3 % of the first difference, 2 K of 70, until nine tenths of it are gone."""
    times = fourier_until(shape, biot, 0.1) * np.arange(1.0, 101.0) / 100
    roots, coefficients = terms(shape, biot)
    exact = np.exp(-np.outer(times, roots**2)) @ coefficients
    outer, inner = np.meshgrid(np.geomspace(0.3, 30.0, 60), np.geomspace(1.0, 60.0, 60))
    astray = np.abs(left_in_stages(outer.ravel(), inner.ravel(), times) - exact[:, None])
    assert astray.max(axis=0).min() < 0.03
