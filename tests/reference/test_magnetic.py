"""The declination against the test values published with the World Magnetic Model.

Source: WMM2025 test values (NOAA NCEI and British Geological Survey, 2024), chiefly the rows at
sea level.
"""

from datetime import UTC, datetime
from math import sqrt

import pytest

from noonpot.core.station import Place
from noonpot.declination import declination

START, MIDDLE = (
    datetime(2025, 1, 1, tzinfo=UTC),
    datetime(2027, 7, 2, 12, tzinfo=UTC),
)  # 2025.0, 2027.5


@pytest.mark.parametrize(
    ("when", "latitude", "longitude", "degrees", "horizontal_nt"),
    [
        (START, 80, 0, 1.28, 6523.2),
        (START, 0, 120, -0.16, 39677.9),
        (START, -80, -120, 68.78, 16898.1),  # longitude 240 in the table
        (MIDDLE, 80, 0, 2.59, 6507.5),
        (MIDDLE, 0, 120, -0.24, 39702.0),
        (MIDDLE, -80, -120, 68.49, 16908.3),
    ],
)
def test_declination_is_that_of_the_published_table(
    when: datetime, latitude: float, longitude: float, degrees: float, horizontal_nt: float
) -> None:
    found = declination(Place(latitude, longitude, 0.0), when)
    assert found.degrees == pytest.approx(degrees, abs=0.00501)
    # Error model of WMM2025 for the declination, published with the model.
    assert found.uncertainty_deg == pytest.approx(
        sqrt(0.26**2 + (5417 / horizontal_nt) ** 2), rel=1e-4
    )


def test_height_counts_in_kilometres() -> None:
    """Between the rows for 0 km (1.28) and 100 km (0.85) of 80 N, 0 E in 2025.0, 9 % of the way."""
    summit = declination(Place(80, 0, 8850.0), START)
    assert summit.degrees == pytest.approx(1.28 - 0.0885 * (1.28 - 0.85), abs=0.015)
