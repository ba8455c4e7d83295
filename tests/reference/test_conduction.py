"""Heat in the simulated food against the exact solution for a sphere.

Source: the full series for a sphere with convection at its surface, as in the textbooks on heat
transfer, summed over 60 terms with NumPy and SciPy. Bi = h R / k, Fo = k t / (density capacity R²).
"""

import math

import pytest

from noonpot_hw.food_physics import DenseLoad
from noonpot_hw.materials import Material

# Bi, Fo, share of the first temperature difference that is left in the centre.
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


def ball(radius_m: float, film: float) -> DenseLoad:
    mass_kg = 4 / 3 * math.pi * radius_m**3 * PLAIN.density
    return DenseLoad(PLAIN, mass_kg, 20.0, 100.0, wall_film=0.0, air_film=film)


def live(load: DenseLoad, air_c: float, seconds: float, step_s: float = 5.0) -> float:
    """Let it be for a while in air of one temperature; returns the heat it took [J]."""
    steps = round(seconds / step_s)
    part_s = seconds / steps
    heats = (load.step(air_c, air_c, part_s, lid_open=False) for _ in range(steps))
    return sum(given.from_air_w * part_s for given in heats)


@pytest.mark.parametrize(("biot", "fourier", "left"), SPHERES)
def test_the_middle_of_a_sphere_warms_as_the_exact_series_says(
    biot: float, fourier: float, left: float
) -> None:
    radius_m = 0.05
    load = ball(radius_m, film=biot * PLAIN.conductivity / radius_m)
    diffusivity = PLAIN.conductivity / (PLAIN.density * PLAIN.capacity)
    live(load, 90.0, fourier * radius_m**2 / diffusivity)
    assert (90.0 - load.core_c) / 70.0 == pytest.approx(left, abs=0.004)


def test_a_potato_in_still_hot_air_takes_the_computed_time() -> None:
    # Radius 35 mm, 20 to 95 °C in air of 100 °C at 15 W/(m² K): 187 min by the same series.
    load = ball(0.035, film=15.0)
    live(load, 100.0, 187 * 60)
    assert load.core_c == pytest.approx(95.0, abs=0.15)


def test_a_potato_in_boiling_water_takes_the_computed_time() -> None:
    # The same potato at 500 W/(m² K): 59 min.
    load = ball(0.035, film=500.0)
    live(load, 100.0, 59 * 60)
    assert load.core_c == pytest.approx(95.0, abs=0.4)


def test_all_heat_that_enters_is_found_inside() -> None:
    load = ball(0.05, film=15.0)
    before = load.stored_j
    heat = live(load, 120.0, 3600)
    assert load.stored_j - before == pytest.approx(heat, rel=1e-9)
    assert heat > 10_000


def test_a_longer_step_changes_little() -> None:
    quick, slow = ball(0.02, film=30.0), ball(0.02, film=30.0)
    live(quick, 100.0, 900, step_s=1.0)
    live(slow, 100.0, 900, step_s=60.0)
    assert slow.core_c == pytest.approx(quick.core_c, abs=0.2)
