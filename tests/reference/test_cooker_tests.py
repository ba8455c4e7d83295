"""The published tests of solar cookers against examples worked by hand and against other libraries.

Cooking power: ASABE S580.1, P = (Tf - Ti) M Cv / 600 with Cv = 4186 J/(kg K), Ps = P 700 / I, a
straight line over Td = Tw - Ta, read at 50 K. Figures of merit: Mullick, Kandpal and Saxena, Solar
Energy 39 (1987) 353-360. The standards print no numbers to check against; sets A and B and the
examples of merit were worked by hand from these formulas, and once more with other code.
"""

import math
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats  # type: ignore[import-untyped]

from noonpot.core import light
from noonpot.core.crosslight import beam_above_air, facing_sky
from noonpot.core.merit import Warming, first_merit, second_merit
from noonpot.core.rating import cooking_power
from noonpot.core.straightline import mean_of, straight_line, t95
from ratings import interval

SET_A = (
    (40.0, 46.2, 820, 28.0, 86.511, 73.851, 15.10),
    (46.2, 51.9, 830, 28.2, 79.534, 67.077, 20.85),
    (51.9, 57.1, 815, 28.5, 72.557, 62.319, 26.00),
    (57.1, 61.8, 840, 28.6, 65.581, 54.651, 30.85),
    (61.8, 66.0, 825, 28.9, 58.604, 49.725, 35.00),
)
"""2.0 kg of water: from, to [°C], light, air, power, standardised power, food over air."""


def test_worked_set_a_row_by_row() -> None:
    for start_c, end_c, wm2, air_c, power_w, standard_w, excess_k in SET_A:
        one = interval(start_c, end_c, wm2, air_c)
        assert one.power_w == pytest.approx(power_w, abs=0.0006)
        assert one.standard_w == pytest.approx(standard_w, abs=0.0006)
        assert one.excess_k == pytest.approx(excess_k)


def test_worked_set_a_as_a_whole() -> None:
    rated = cooking_power(interval(*row[:4], number=i) for i, row in enumerate(SET_A))
    assert rated.line is not None
    assert rated.power_w is not None
    assert rated.line.intercept == pytest.approx(92.589, abs=0.001)
    assert rated.line.slope == pytest.approx(-1.2154, abs=0.0001)
    assert rated.line.r2 == pytest.approx(0.9939, abs=0.0001)
    assert rated.power_w.value == pytest.approx(31.82, abs=0.01)
    assert rated.extrapolated  # the hottest interval lies 35 K above the air
    assert not rated.by_the_standard


def test_worked_set_b_a_cooker_of_one_mass_in_closed_form() -> None:
    # 0.45 of the light, 6 W/(m² K), 0.25 m², 1.75 kg, air 25 °C, 800 W/m², from 30 °C:
    # exactly Ps = 78.75 - 1.3125 Td; differences over ten minutes give 78.651 - 1.31085 Td.
    settle_s = 1.75 * 4186 / (6 * 0.25)
    temps = 85 - 55 * np.exp(-600 * np.arange(10) / settle_s)
    assert temps[[1, 5, 9]] == pytest.approx([36.359, 55.244, 66.797], abs=0.001)
    rows = [
        interval(float(a), float(b), 800, 25, i, 1.75) for i, (a, b) in enumerate(pairwise(temps))
    ]
    rated = cooking_power(rows)
    assert rated.line is not None
    assert rated.power_w is not None
    assert rated.line.intercept == pytest.approx(78.651, abs=0.001)
    assert rated.line.slope == pytest.approx(-1.31085, abs=0.00001)
    assert rated.power_w.value == pytest.approx(13.109, abs=0.001)


@pytest.mark.parametrize("seed", range(5))
def test_the_regression_agrees_with_scipy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = rng.uniform(5, 60, 4 + 9 * seed)
    y = 90 - 1.2 * x + rng.normal(0, 6, len(x))
    ours, theirs = straight_line(x, y), stats.linregress(x, y)
    assert ours is not None
    assert ours.slope == pytest.approx(theirs.slope)
    assert ours.intercept == pytest.approx(theirs.intercept)
    assert ours.r2 == pytest.approx(theirs.rvalue**2)
    # the interval of the line where x is 0 is that of its intercept
    half = stats.t.ppf(0.975, len(x) - 2) * theirs.intercept_stderr
    assert ours.at(0.0).high - ours.at(0.0).value == pytest.approx(half, rel=1e-3)
    # and anywhere else it is that of the intercept of the shifted line
    moved = stats.linregress(x - 50, y)
    assert ours.at(50.0).low == pytest.approx(
        moved.intercept - stats.t.ppf(0.975, len(x) - 2) * moved.intercept_stderr, rel=1e-3
    )


def test_students_t_agrees_with_scipy() -> None:
    for freedom in [*range(1, 60), 100, 1000, 100_000]:
        assert t95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=5e-4)


def test_the_interval_of_a_mean_agrees_with_scipy() -> None:
    values = np.array([0.112, 0.118, 0.121, 0.109])
    low, high = stats.t.interval(0.95, 3, values.mean(), stats.sem(values))
    ours = mean_of(values)
    assert ours is not None
    assert ours.low == pytest.approx(low, abs=1e-5)
    assert ours.high == pytest.approx(high, abs=1e-5)


@pytest.mark.parametrize("elevation_deg", [20.0, 45.0, 80.0])
def test_scattered_light_towards_the_sun_agrees_with_pvlib(elevation_deg: float) -> None:
    from pvlib import irradiance

    zenith_deg = 90 - elevation_deg
    theirs = irradiance.haydavies(zenith_deg, 170.0, 120.0, 800.0, 1400.0, zenith_deg, 170.0)
    sine = np.array(math.sin(math.radians(elevation_deg)))
    ours = facing_sky(np.array(120.0), np.array(800.0), sine, np.array(1400.0))
    assert float(ours) == pytest.approx(float(theirs), rel=1e-6)


def test_the_beam_above_the_air_agrees_with_spencers_series() -> None:
    from pvlib import irradiance

    for month in range(1, 13):
        noon = datetime(2026, month, 15, 12, tzinfo=UTC)
        theirs = irradiance.get_extra_radiation(
            noon.timetuple().tm_yday, solar_constant=1361.0, method="spencer"
        )
        ours = float(beam_above_air(np.array(noon.timestamp())))
        assert ours == pytest.approx(float(theirs), rel=0.003)


def test_the_worked_example_of_both_figures_of_merit() -> None:
    first = first_merit(132, 32, 850)
    assert first == pytest.approx(0.117647, abs=1e-6)
    warming = Warming(0.0, 60.0, 90.0, 65 * 60.0, 2.0 * 4186, 32.0, 850.0, True, 8.0)
    second = second_merit(first, warming, 0.25)
    assert second is not None
    assert second == pytest.approx(0.54449, abs=1e-5)


def test_the_second_figure_of_a_cooker_of_one_mass_is_its_optical_efficiency() -> None:
    # 0.60 of the light, 5 W/(m² K), 0.25 m², 2 kg, air 25 °C, 850 W/m²: at rest at 127 °C
    settle_s = 2 * 4186 / (5 * 0.25)
    seconds = settle_s * math.log((127 - 60) / (127 - 90))
    assert seconds / 60 == pytest.approx(66.281, abs=0.001)
    warming = Warming(0.0, 60.0, 90.0, seconds, 2 * 4186, 25.0, 850.0, True, 8.0)
    assert second_merit(first_merit(127, 25, 850), warming, 0.25) == pytest.approx(0.6, abs=1e-9)


def test_light_splits_into_no_more_than_the_sky_gives() -> None:
    sky = light.ClearSky(*(np.array([v]) for v in (180.0, 50.0, 850.0, 880.0, 120.0, 1.0, 1.0)))
    beam, diffuse = light.split(np.array([1.0]), sky)
    assert float(beam[0] * sky.sine[0] + diffuse[0]) == pytest.approx(850.0, rel=0.03)
