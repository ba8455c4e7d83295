"""The search for the best aim, against all aims there are, reckoned one by one."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from noonpot.core.exposure import TURN_S, Exposure, neighbours
from noonpot.core.light import clear_sky, on_aperture
from noonpot.core.station import Place
from noonpot.core.sun import Floats, angle_between
from skies import EQUATOR, geometric_table, hour

NORTH, SOUTH = Place(45.0, 0.0, 0.0), Place(-35.0, 20.0, 0.0)
HOUSE = ((150.0, 0.0), (160.0, 70.0), (200.0, 70.0))
STEP_S = 300.0


def exposure(begin_h: float, end_h: float, place: Place, acceptance_deg: float) -> Exposure:
    """Under a clear sky, in steps of five minutes."""
    begin_s, end_s = (hour(hours, place).timestamp() for hours in (begin_h, end_h))
    times = np.arange(begin_s + STEP_S / 2, end_s, STEP_S)
    return Exposure(
        times_s=times,
        steps_s=np.full(len(times), STEP_S),
        clear=clear_sky([geometric_table(place)], place.horizon, times),
        skies=np.ones((1, len(times))),
        acceptance=np.array([[acceptance_deg]]),
        diffuse=np.array([[0.6]]),
    )


def gathered(light: Exposure, azimuth: float, elevation: float) -> float:
    """What one aim gathers [J/m²], the plain way."""
    sky = light.clear
    misaim = angle_between(azimuth, elevation, sky.azimuth_deg, sky.elevation_deg)
    useful = on_aperture(np.array(1.0), sky, misaim, light.acceptance[0], np.array(0.6))
    return float(useful.sum()) * STEP_S


@pytest.mark.parametrize(
    ("begin_h", "end_h", "place", "acceptance_deg"),
    [
        (9.0, 12.0, NORTH, 30.0),
        (8.0, 16.0, NORTH, 12.0),
        (14.0, 19.0, SOUTH, 30.0),
        (10.0, 13.0, EQUATOR, 20.0),  # through the zenith
        (9.0, 17.0, replace(NORTH, horizon=HOUSE), 15.0),  # in two parts
    ],
)
def test_no_aim_of_all_is_better(
    begin_h: float, end_h: float, place: Place, acceptance_deg: float
) -> None:
    light = exposure(begin_h, end_h, place, acceptance_deg)
    all_of_them = [gathered(light, a, e) for a in range(0, 360, 3) for e in range(0, 91, 2)]
    assert gathered(light, *light.best()) >= max(all_of_them) * (1 - 1e-9)


@settings(max_examples=40)
@given(
    st.floats(6, 15),
    st.floats(0.2, 8.0),
    st.floats(-60, 60),
    st.floats(8, 45),
    st.tuples(st.floats(0, 360), st.floats(0, 90)),
)
def test_no_aim_drawn_by_lot_is_better_and_turning_gathers_no_less(
    begin_h: float,
    length_h: float,
    latitude: float,
    acceptance_deg: float,
    other: tuple[float, float],
) -> None:
    light = exposure(begin_h, begin_h + length_h, Place(latitude, 0.0, 0.0), acceptance_deg)
    best = light.best()
    assert 0 <= best[1] <= 90
    assert gathered(light, *best) >= gathered(light, *other) * (1 - 1e-6)
    left = light.misaims(best[None, :])
    turned = light.turned(left[0])[None, :]
    assert light.gathered(turned).sum() >= light.gathered(left).sum() * (1 - 1e-12)


def test_whoever_turns_aims_at_the_middle_of_the_half_hour() -> None:
    light = exposure(9.0, 12.0, EQUATOR, 30.0)
    turned = light.turned(np.full(len(light.times_s), 60.0))
    # the sun moves 15 degrees an hour: 7.5 in half an hour, seen from its middle
    assert turned.max() == pytest.approx(7.5 / 2, abs=1.3)
    piece = int(TURN_S / STEP_S)
    assert turned[:piece] == pytest.approx(turned[-piece:], abs=0.1)


@given(st.floats(0, 360), st.floats(0, 90), st.floats(0.1, 8))
def test_a_search_goes_over_the_zenith_and_never_below_the_horizon(
    azimuth: float, elevation: float, reach: float
) -> None:
    around = neighbours(np.array([azimuth, elevation]), reach)
    assert ((around[:, 1] >= 0) & (around[:, 1] <= 90)).all()
    away: Floats = angle_between(azimuth, elevation, around[:, 0], around[:, 1])
    assert (away < 2 * reach + 1e-9).all()
