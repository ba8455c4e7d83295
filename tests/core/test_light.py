"""Light on the aperture: what is split must add up, and what hides the sun must hide it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core import light
from noonpot.core.sun import light_share
from skies import EQUATOR, geometric_table, hour

HOURS = np.array([hour(h).timestamp() for h in (5, 6.5, 9, 12, 15, 17.5, 19)])
SKY = light.clear_sky([geometric_table()], (), HOURS)


def test_beam_and_diffuse_add_up_to_the_global_light() -> None:
    index = np.full(len(HOURS), 0.9)
    beam, diffuse = light.split(index, SKY)
    high = SKY.elevation_deg > 20
    total = beam * SKY.sine + diffuse
    assert total[high] == pytest.approx(0.9 * SKY.ghi[high])


def test_a_tree_takes_the_beam_but_leaves_the_sky() -> None:
    hidden = light.clear_sky([geometric_table()], ((0.0, 60.0), (180.0, 60.0)), HOURS)
    clear = np.ones(len(HOURS))
    beam, diffuse = light.split(clear, hidden)
    free_beam, free_diffuse = light.split(clear, SKY)
    nine = 2
    assert (beam[nine], hidden.up[nine]) == (0.0, 0.0)
    assert free_beam[nine] > 700
    assert diffuse[nine] == free_diffuse[nine]


def test_the_sun_is_of_no_use_below_five_degrees() -> None:
    near = np.array([hour(6.3).timestamp(), hour(6.4).timestamp()])  # 4.5 and 6 degrees
    assert list(light.clear_sky([geometric_table()], (), near).up) == [0.0, 1.0]


def test_where_no_table_reaches_it_is_night() -> None:
    sky = light.clear_sky([geometric_table()], (), HOURS + 7 * 86400)
    assert not sky.up.any()
    assert not sky.ghi.any()


@pytest.mark.parametrize("misaim_deg", [0.0, 10.0, 30.0, 60.0, 89.0, 120.0])
@pytest.mark.parametrize("acceptance_deg", [15.0, 30.0, 60.0])
def test_the_gain_is_that_of_one_sun_at_a_time(misaim_deg: float, acceptance_deg: float) -> None:
    gain = light.aim_gain(np.array([misaim_deg]), np.array([acceptance_deg]))
    assert gain[0] == pytest.approx(light_share(misaim_deg, acceptance_deg))


@given(st.floats(0.0, 1.3), st.floats(0.0, 0.1), st.floats(0.0, 12.0))
def test_a_clearer_sky_never_gives_less_to_a_cooker_that_faces_the_sun(
    index: float, more: float, misaim_deg: float
) -> None:
    args = (SKY, np.full(len(HOURS), misaim_deg), np.array(30.0), np.array(0.6))
    less = light.on_aperture(np.full(len(HOURS), index), *args)
    assert (light.on_aperture(np.full(len(HOURS), index + more), *args) >= less - 1.5).all()


def test_until_it_is_aimed_a_cooker_is_taken_to_face_the_sun() -> None:
    east = [(HOURS[3], 90.0, 45.0)]  # at noon, when the sun of the equator stands overhead
    angle = light.misaim(east, HOURS, SKY)
    assert list(angle[:3]) == [0.0, 0.0, 0.0]
    assert angle[3:5] == pytest.approx([45.0, 90.0], abs=0.01)


def test_blocks_are_counted_back_from_the_end() -> None:
    assert list(light.block_means(np.arange(7.0), 3)) == [2.0, 5.0]
    assert EQUATOR.latitude == 0.0
