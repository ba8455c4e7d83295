"""Sun and clear sky, all the way through our tables, against published numbers."""

import math
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from noonpot.core import light
from noonpot.core.station import Place
from noonpot.core.sun import DayTable, angle_between
from noonpot.core.water import standard_pressure_pa
from noonpot.suntable import compute

# pandas warns of what a later version will drop; pvlib still uses it.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning")

# I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
# NREL/TP-560-34302, revised 2008, table A5.1 and section A.5.
GOLDEN = Place(latitude=39.742476, longitude=-105.1786, elevation_m=1830.14)
WORKED_EXAMPLE = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)  # 12:30:30 at UTC-7
ZENITH_DEG, AZIMUTH_DEG, INCIDENCE_DEG = 50.11162, 194.34024, 25.18700
TRANSIT = datetime(2003, 10, 17, 18, 46, 4, 970_000, tzinfo=UTC)


@pytest.fixture(scope="module")
def golden() -> DayTable:
    return compute(GOLDEN, date(2003, 10, 17))


def test_the_sun_is_where_the_worked_example_has_it(golden: DayTable) -> None:
    """The example's 820 mbar and 11 °C are 812 mbar and 12 °C here: 0.0003° of refraction."""
    sky = golden.at(WORKED_EXAMPLE)
    assert sky.azimuth_deg == pytest.approx(AZIMUTH_DEG, abs=0.001)
    assert sky.elevation_deg == pytest.approx(90 - ZENITH_DEG, abs=0.001)


def test_the_sun_crosses_the_meridian_when_the_worked_example_has_it(golden: DayTable) -> None:
    before, after = (golden.at(TRANSIT + timedelta(seconds=s)).azimuth_deg for s in (-1, 1))
    assert before < 180 < after


def test_misaim_of_the_tilted_surface_is_its_angle_of_incidence() -> None:
    """A surface tilted by 30°, turned 10° from south to the east, looks at (170°, 60°)."""
    misaim = angle_between(170.0, 60.0, AZIMUTH_DEG, 90 - ZENITH_DEG)
    assert misaim == pytest.approx(INCIDENCE_DEG, abs=2e-5)


def test_the_misaim_of_a_cook_is_that_angle_too_with_the_sun_of_our_table(
    golden: DayTable,
) -> None:
    when = np.array([WORKED_EXAMPLE.timestamp()])
    sky = light.clear_sky([golden], (), when)
    aims = [(when[0] - 60.0, 170.0, 60.0)]
    assert light.misaim(aims, when, sky)[0] == pytest.approx(INCIDENCE_DEG, abs=0.001)


def ineichen(
    zenith_deg: float, air_mass: float, turbidity: float, elevation_m: float, extra_wm2: float
) -> tuple[float, float, float]:
    """Clear sky (GHI, DNI, DHI) [W/m²], written out here to test the wiring of ours.

    P. Ineichen and R. Perez, A new airmass independent formulation for the Linke turbidity
    coefficient, Solar Energy 73(3), 2002, pp. 151-157, eqs. 8 and 11.
    """
    fh1, fh2 = math.exp(-elevation_m / 8000), math.exp(-elevation_m / 1250)
    cg1, cg2 = 5.09e-5 * elevation_m + 0.868, 3.92e-5 * elevation_m + 0.0387
    up = math.cos(math.radians(zenith_deg))
    ghi = cg1 * extra_wm2 * up * math.exp(-cg2 * air_mass * (fh1 + fh2 * (turbidity - 1)))
    beam = extra_wm2 * (0.664 + 0.163 / fh1) * math.exp(-0.09 * air_mass * (turbidity - 1))
    most = ghi * (1 - (0.1 - 0.2 * math.exp(-turbidity)) / (0.1 + 0.882 / fh1)) / up
    dni = min(beam, most)
    return ghi, dni, ghi - dni * up


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ((10, 1, 3, 0, 1364), (1038.1592, 942.2082, 110.2653)),
        ((48.2, 1.5, 3, 1500, 1367), (697.9198, 898.0865, 99.3160)),
        ((46.0468, 1.32355, 3, 0, 1364), (704.6968, 888.9015, 87.7360)),
        ((10.5641, 0.93528, 3, 0, 1364), (1044.1231, 953.2493, 107.0311)),
        ((72.4169, 3.01614, 3, 0, 1364), (251.9943, 655.4492, 53.9901)),
    ],
)
def test_the_formula_written_out_here_is_right(
    given: tuple[float, float, float, float, float], expected: tuple[float, float, float]
) -> None:
    """Source: expected values of pvlib's own test suite, the last three from its forerunner in
    MATLAB, with angle and air mass rounded; the second row computed with pvlib."""
    assert ineichen(*given) == pytest.approx(expected, abs=3e-3)


def test_the_clear_sky_is_ineichens_with_the_turbidity_of_place_and_month() -> None:
    """Linke turbidity 3.118033 at 32.125 N 110.875 W on 24 June 2014: pvlib's own test suite.

    Air mass: F. Kasten and A. T. Young, Applied Optics 28(22), 1989, pp. 4735-4738. Sun's power
    outside the air: J. W. Spencer, Search 2(5), 1971, with 1366.1 W/m²; both from memory.
    """
    place = Place(latitude=32.125, longitude=-110.875, elevation_m=700.0)
    sky = compute(place, date(2014, 6, 24)).at(datetime(2014, 6, 24, 21, tzinfo=UTC))
    zenith = 90 - sky.elevation_deg
    up = math.cos(math.radians(zenith))
    air_mass = 1 / (up + 0.50572 * (96.07995 - zenith) ** -1.6364)
    year = 2 * math.pi * (175 - 1) / 365
    series = 0.034221 * np.cos(year) + 0.00128 * np.sin(year)
    series += 0.000719 * np.cos(2 * year) + 7.7e-05 * np.sin(2 * year)
    expected = ineichen(
        zenith,
        air_mass * standard_pressure_pa(700.0) / 101_325,
        3.118033,
        700.0,
        1366.1 * (1.00011 + float(series)),
    )
    assert (sky.ghi, sky.dni, sky.dhi) == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize(
    ("place", "day", "measured_ghi", "measured_dni"),
    [
        (Place(37.70, -105.92, 2317.0), date(2016, 1, 1), 3.395, 8.541),
        (Place(32.23, -110.955, 786.0), date(2018, 10, 18), 5.52, 9.30),
    ],
)
def test_a_clear_day_brings_about_as_much_light_as_was_measured(
    place: Place, day: date, measured_ghi: float, measured_dni: float
) -> None:
    """Daily sums [kWh/m²] of two clear days: SURFRAD station Alamosa and the University of Arizona
    at Tucson. The turbidity of a month leaves 10 % open."""
    table = compute(place, day)
    kept = slice(15, -15)  # the half hours beyond the solar day
    ghi, dni = (float(x[kept].sum()) * table.step_s / 3.6e6 for x in (table.ghi, table.dni))
    assert ghi == pytest.approx(measured_ghi, rel=0.07)
    assert dni == pytest.approx(measured_dni, rel=0.1)
