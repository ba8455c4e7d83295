"""The saturation line and the boiling point as the rest of the house uses them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.water import (
    boiling_point_c,
    saturation_pressure_pa,
    saturation_temperature_c,
    standard_pressure_pa,
)


@given(st.floats(0, 373.9))
def test_there_and_back_again(temp_c: float) -> None:
    assert saturation_temperature_c(saturation_pressure_pa(temp_c) + 1e-3) == pytest.approx(
        temp_c, abs=1e-4
    )


@given(st.floats(-430, 8850), st.floats(-430, 8850))
def test_the_higher_the_garden_the_sooner_water_boils(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert standard_pressure_pa(low) >= standard_pressure_pa(high)
    assert boiling_point_c(low) >= boiling_point_c(high) - 1e-9


def test_a_measured_pressure_outdoes_the_elevation() -> None:
    assert boiling_point_c(3000.0, pressure_pa=100_000.0) == saturation_temperature_c(100_000.0)


@pytest.mark.parametrize("pressure_pa", [1013.25, 845.6, 29_999.0, 1.2e5, -1.0, math.nan])
def test_a_pressure_in_hectopascals_is_not_taken_for_pascals(pressure_pa: float) -> None:
    with pytest.raises(ValueError, match="is it in hPa"):
        boiling_point_c(0.0, pressure_pa)


@pytest.mark.parametrize("pressure_pa", [611.2, 22_064_001.0, -1.0, math.nan])
def test_a_pressure_off_the_saturation_line_is_refused(pressure_pa: float) -> None:
    with pytest.raises(ValueError, match="has no boiling point here"):
        saturation_temperature_c(pressure_pa)


@pytest.mark.parametrize("temp_c", [-0.1, 373.95, math.nan])
def test_ice_and_supercritical_water_are_refused(temp_c: float) -> None:
    with pytest.raises(ValueError, match="has no vapour pressure here"):
        saturation_pressure_pa(temp_c)


@pytest.mark.parametrize("elevation_m", [-1001.0, 11_001.0, math.inf, math.nan])
def test_an_elevation_off_the_earth_is_refused(elevation_m: float) -> None:
    with pytest.raises(ValueError, match="give metres"):
        boiling_point_c(elevation_m)
