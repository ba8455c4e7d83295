"""From true to magnetic, inside and outside the years and places the model is good for."""

import subprocess
import sys
from datetime import UTC, datetime

import pytest

from noonpot.core.station import Place
from noonpot.declination import declination

SOMEWHERE = Place(latitude=45.0, longitude=-110.0, elevation_m=1500.0)


def test_within_its_years_there_is_nothing_to_say() -> None:
    assert declination(SOMEWHERE, datetime(2026, 6, 3, tzinfo=UTC)).note == ""


def test_after_its_last_year_the_model_stands_still_and_says_so() -> None:
    last = declination(SOMEWHERE, datetime(2030, 1, 1, tzinfo=UTC))
    later = declination(SOMEWHERE, datetime(2041, 7, 1, tzinfo=UTC))
    assert (last.degrees, last.note) == (later.degrees, "")
    assert "covers 2025 to 2030, so the compass bearing is that of 2030" in later.note


def test_before_its_first_year_it_says_so_too() -> None:
    first = declination(SOMEWHERE, datetime(2025, 1, 1, tzinfo=UTC))
    earlier = declination(SOMEWHERE, datetime(2016, 6, 3, tzinfo=UTC))
    assert first.degrees == earlier.degrees
    assert "is that of 2025" in earlier.note


def test_near_the_magnetic_pole_the_compass_is_not_trusted() -> None:
    found = declination(Place(86.0, 139.0, 0.0), datetime(2026, 6, 3, tzinfo=UTC))
    assert "not to be trusted" in found.note
    assert found.uncertainty_deg > 2


@pytest.mark.parametrize("latitude", [-90.0, 90.0])
def test_the_poles_themselves_have_an_answer(latitude: float) -> None:
    found = declination(Place(latitude, 0.0, 0.0), datetime(2026, 6, 3, tzinfo=UTC))
    assert -180 <= found.degrees <= 180


def test_the_model_is_not_read_before_it_is_asked_for() -> None:
    look = "import noonpot.declination, sys; print('pygeomag' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "False"
