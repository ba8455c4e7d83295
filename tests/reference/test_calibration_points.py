"""The boiling bath and the calibration made of it, against other people's saturation line."""

from math import hypot

import pytest

from noonpot.core.bath import Rest, boiling_bath, ice_bath
from noonpot.core.calibration import calibrated, point
from noonpot.core.moment import utc

AT = utc("2026-06-03T07:00:00Z")
# Pressure of the U.S. Standard Atmosphere, 1976, by the library fluids (ATMOSPHERE_1976); boiling
# points of those pressures by CoolProp, IAPWS-95.
PLACES = [(0.0, 1013.25, 99.974), (1524.0, 843.11, 94.904), (3000.0, 701.21, 89.977)]


def boils_at_c(hectopascal: float) -> float:
    """Source: CoolProp, IAPWS-95."""
    from CoolProp.CoolProp import PropsSI  # a second of work, for whoever asks alone

    return float(PropsSI("T", "P", 100 * hectopascal, "Q", 0, "Water")) - 273.15


@pytest.mark.parametrize(("elevation_m", "hectopascal", "boiling_c"), PLACES)
def test_the_boiling_bath_and_its_doubt_are_those_of_the_saturation_line(
    elevation_m: float, hectopascal: float, boiling_c: float
) -> None:
    bath = boiling_bath(elevation_m)
    assert bath.true_c == pytest.approx(boiling_c, abs=0.002)
    weather_k = (boils_at_c(hectopascal + 10) - boils_at_c(hectopascal - 10)) / 2
    assert bath.doubt_k == pytest.approx(hypot(0.1, weather_k), abs=0.001)
    measured = boiling_bath(elevation_m, 100 * (hectopascal - 12))
    assert measured.true_c == pytest.approx(boils_at_c(hectopascal - 12), abs=0.002)


@pytest.mark.parametrize(("elevation_m", "boiling_c"), [(m, c) for m, _, c in PLACES])
def test_a_probe_of_known_error_comes_out_true_at_every_elevation(
    elevation_m: float, boiling_c: float
) -> None:
    """A probe that shows 1.012 times what is, and 0.4 K more: worked by hand."""
    points = [
        point(bath, Rest(1.012 * true_c + 0.4, 0.0, 0.0, 0.0625, ""))
        for bath, true_c in ((ice_bath(), 0.0), (boiling_bath(elevation_m), boiling_c))
    ]
    made = calibrated("loaf", "w1 28-01", AT, points)
    assert made.gain == pytest.approx(1 / 1.012, abs=5e-5)
    assert made.offset_k == pytest.approx(-0.4 / 1.012, abs=1e-3)
    for true_c in (5.0, 57.0, 63.0, 74.0, boiling_c):
        assert made.true_c(1.012 * true_c + 0.4) == pytest.approx(true_c, abs=0.003)
