"""Boiling point and air pressure against published tables and a reference library."""

import pytest

from noonpot.core.water import (
    boiling_point_c,
    saturation_pressure_pa,
    saturation_temperature_c,
    standard_pressure_pa,
)


def coolprop(wanted: str, first: str, value: float, second: str, other: float) -> float:
    """What CoolProp says, which computes IAPWS-95, the formulation for scientific use."""
    from CoolProp.CoolProp import PropsSI  # a second of work, for whoever asks alone

    return float(PropsSI(wanted, first, value, second, other, "Water"))


@pytest.mark.parametrize(
    ("kelvin", "mpa"), [(300, 0.353658941e-2), (500, 2.63889776), (600, 12.3443146)]
)
def test_vapour_pressure_is_that_of_table_35(kelvin: float, mpa: float) -> None:
    """Source: IAPWS R7-97(2012), table 35."""
    assert saturation_pressure_pa(kelvin - 273.15) / 1e6 == pytest.approx(mpa, rel=2e-9)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1, 453.035632), (10, 584.149488)])
def test_boiling_temperature_is_that_of_table_36(mpa: float, kelvin: float) -> None:
    """Source: IAPWS R7-97(2012), table 36."""
    assert saturation_temperature_c(mpa * 1e6) + 273.15 == pytest.approx(kelvin, abs=5e-7)


@pytest.mark.parametrize("pressure_pa", [30e3, 61.7e3, 70e3, 79.5e3, 90e3, 101.325e3, 115e3])
def test_boiling_temperature_agrees_with_coolprop(pressure_pa: float) -> None:
    """Source: CoolProp, which computes IAPWS-95, the formulation for scientific use."""
    expected = coolprop("T", "P", pressure_pa, "Q", 0) - 273.15
    assert saturation_temperature_c(pressure_pa) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("temp_c", [5.0, 20.0, 50.0, 80.0, 100.0])
def test_vapour_pressure_agrees_with_coolprop(temp_c: float) -> None:
    """Source: CoolProp, IAPWS-95."""
    expected = coolprop("P", "T", temp_c + 273.15, "Q", 1)
    assert saturation_pressure_pa(temp_c) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize(
    ("elevation_m", "hectopascal", "boiling_c"),
    [
        (0, 1013.25, 99.974),
        (300, 977.73, 98.978),
        (500, 954.61, 98.313),
        (1000, 898.76, 96.649),
        (1500, 845.60, 94.984),
        (1524, 843.11, 94.904),  # 5000 ft
        (2000, 795.01, 93.317),
        (2500, 746.92, 91.648),
        (3000, 701.21, 89.977),
    ],
)
def test_pressure_and_boiling_point_by_elevation(
    elevation_m: float, hectopascal: float, boiling_c: float
) -> None:
    """Source: U.S. Standard Atmosphere, 1976, as the library fluids computes it (ATMOSPHERE_1976);
    boiling points of those pressures by CoolProp, IAPWS-95."""
    assert standard_pressure_pa(elevation_m) / 100 == pytest.approx(hectopascal, abs=0.005)
    assert boiling_point_c(elevation_m) == pytest.approx(boiling_c, abs=0.002)


@pytest.mark.parametrize(
    ("kilopascal", "boiling_c"),
    [(30, 69.09), (40, 75.86), (50, 81.32), (75, 91.76), (100, 99.61), (101.325, 99.97)],
)
def test_boiling_points_are_those_of_the_handbook_table_by_pressure(
    kilopascal: float, boiling_c: float
) -> None:
    """Source: Y. A. Cengel and M. A. Boles, Thermodynamics, table A-5 (from memory)."""
    assert saturation_temperature_c(1000 * kilopascal) == pytest.approx(boiling_c, abs=0.0075)


@pytest.mark.parametrize(
    ("temp_c", "kilopascal"),
    [(20, 2.3392), (50, 12.352), (75, 38.597), (80, 47.416), (90, 70.183), (95, 84.609)],
)
def test_vapour_pressures_are_those_of_the_handbook_table_by_temperature(
    temp_c: float, kilopascal: float
) -> None:
    """Source: the same, table A-4 (from memory)."""
    assert saturation_pressure_pa(temp_c) / 1000 == pytest.approx(kilopascal, rel=3e-4)


def test_at_fifteen_hundred_metres_water_boils_near_95_degrees() -> None:
    """Common practice, no source."""
    assert boiling_point_c(1500.0) == pytest.approx(95, abs=0.5)


def test_a_boiling_point_falls_by_a_degree_in_about_300_metres() -> None:
    """Common practice, no source."""
    assert boiling_point_c(0.0) - boiling_point_c(300.0) == pytest.approx(1, abs=0.05)
