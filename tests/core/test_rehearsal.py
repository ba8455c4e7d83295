"""A cook gone through beforehand: what must hold whatever chance brings."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from noonpot.core.cooklog import Loaded
from noonpot.core.dayahead import STEP_S, DayAhead, day_ahead
from noonpot.core.learning import Knowledge
from noonpot.core.rehearsal import Circumstances, Course, Rehearsal, Tending, held
from noonpot.core.skykind import sky_named
from noonpot.core.station import CookerSpec, Place
from skies import EQUATOR, clock_of, geometric_table, hour

TABLE = geometric_table()
DAY = day_ahead(TABLE, EQUATOR)
SPEC = CookerSpec("box", 0.25, 30.0)
KINDS = st.sampled_from([True, False, None])
SKIES = st.sampled_from(["clear", "broken", "70%", "typical"])
HOURS = st.floats(6.5, 15.0)


def rehearsal(  # noqa: PLR0913  most of it can be left out
    sky: str = "clear",
    *,
    mass_kg: float = 0.8,
    wet: bool | None = False,
    pot_c: float | None = None,
    hold_s: float = 0.0,
    tending: Tending | None = None,
    target_c: float = 85.0,
    day: DayAhead = DAY,
) -> Rehearsal:
    loaded = Loaded(0.0, "food", mass_kg, 20.0, target_c, wet)
    around = Circumstances(99.9, 22.0, hold_s, pot_c, tending or Tending())
    return Rehearsal(SPEC, Knowledge(), loaded, day, sky_named(sky), around)


def course(hours: float, rehearsed: Rehearsal) -> Course:
    return rehearsed.course(DAY.step_at(hour(hours).timestamp()))


def ends(found: Course) -> np.ndarray:
    """When each member is done, in seconds of the day; those that never are end very late."""
    return np.minimum(STEP_S * found.load + found.done_s, 1e9)


@settings(max_examples=25)
@given(HOURS, st.floats(1.0, 2.0), KINDS, SKIES)
def test_more_sun_never_delays_the_end(
    hours: float, brighter: float, wet: bool | None, sky: str
) -> None:
    clear = DAY.clear
    more = {name: brighter * getattr(clear, name) for name in ("ghi", "dni", "dhi")}
    bright = replace(DAY, clear=replace(clear, **more))
    dim, light = (ends(course(hours, rehearsal(sky, wet=wet, day=d))) for d in (DAY, bright))
    assert (light <= dim + 1.0).all()


@pytest.mark.parametrize("wet", [True, False])
def test_a_better_sky_never_lowers_the_chance(wet: bool) -> None:
    kinds = ("10%", "overcast", "40%", "broken", "thin", "90%", "clear")
    chances = [np.isfinite(course(9.0, rehearsal(k, wet=wet)).done_s).mean() for k in kinds]
    assert chances == sorted(chances)
    assert chances[-1] > chances[0] + 0.3


@settings(max_examples=25)
@given(
    HOURS, st.floats(0.2, 3.0), st.floats(1.01, 3.0), KINDS, SKIES, st.sampled_from([None, 95.0])
)
def test_a_heavier_load_never_ends_earlier(
    hours: float, mass_kg: float, more: float, wet: bool | None, sky: str, pot_c: float | None
) -> None:
    light, heavy = (
        ends(course(hours, rehearsal(sky, mass_kg=kg, wet=wet, pot_c=pot_c)))
        for kg in (mass_kg, mass_kg * more)
    )
    assert (heavy >= light - 1.0).all()


@settings(max_examples=25)
@given(HOURS, st.floats(0.1, 4.0), KINDS, SKIES, st.sampled_from([None, 95.0]))
def test_loading_later_never_ends_earlier(
    hours: float, later: float, wet: bool | None, sky: str, pot_c: float | None
) -> None:
    rehearsed = rehearsal(sky, wet=wet, pot_c=pot_c)
    early, late = (ends(course(h, rehearsed)) for h in (hours, hours + later))
    assert (late >= early - 30.0).all()  # a pot may be put out a little later, into better sun


@settings(max_examples=15)
@given(HOURS, st.floats(10, 600), SKIES)
def test_turning_more_rarely_never_makes_it_likelier(hours: float, every: float, sky: str) -> None:
    often = course(hours, rehearsal(sky, tending=Tending(300.0)))
    rarely = course(hours, rehearsal(sky, tending=Tending(60 * every)))
    assert (ends(rarely) >= ends(often) - 1.0).all()


@pytest.mark.parametrize("sky", ["clear", "broken"])
def test_who_leaves_it_alone_pays_for_it_and_aims_ahead_of_the_sun(sky: str) -> None:
    turned, left = (
        course(9.0, rehearsal(sky, tending=t)) for t in (Tending(1800.0), Tending(left=True))
    )
    assert left.toward is not None
    assert left.toward > left.load
    assert np.isfinite(left.done_s).mean() < np.isfinite(turned.done_s).mean()
    at_once = rehearsal(sky, tending=Tending(86400.0))  # aimed at the first light, and never again
    assert np.isfinite(left.done_s).mean() > np.isfinite(course(9.0, at_once).done_s).mean()


def test_the_hold_is_waited_for() -> None:
    short, long = (course(9.0, rehearsal(wet=True, hold_s=s)) for s in (0.0, 7200.0))
    both = np.isfinite(long.done_s)
    assert both.any()
    assert (long.done_s[both] >= short.done_s[both] + 7199.0).all()


def test_a_pot_that_must_be_hot_is_put_out_before_and_later_for_a_later_load() -> None:
    rehearsed = rehearsal(pot_c=90.0)
    courses = [course(h, rehearsed) for h in (8.0, 10.0, 12.0, 14.0)]
    outs = [c.out for c in courses]
    assert all(c.out < c.load for c in courses)
    assert outs == sorted(outs)
    assert courses[2].hot.mean() >= courses[0].hot.mean()


def test_food_that_heats_up_with_its_pot_needs_no_hot_pot() -> None:
    found = course(9.0, rehearsal())
    assert found.out == found.load
    assert found.hot.all()


def test_the_same_question_gets_the_same_answer() -> None:
    assert (ends(course(9.0, rehearsal())) == ends(course(9.0, rehearsal()))).all()


def test_a_core_is_done_when_it_has_stayed_long_enough() -> None:
    cores = np.array([[20.0, 95, 95, 80, 95, 95, 95], [20, 30, 40, 50, 60, 70, 80]])
    assert held(cores, 90.0, 600.0).tolist() == pytest.approx([900.0 + 200 + 600, np.inf])
    assert held(cores, 90.0, 0.0).tolist() == pytest.approx([280.0, np.inf])
    assert held(np.full((1, 3), 95.0), 90.0, 0.0).tolist() == [0.0]


def test_the_day_runs_from_the_first_sun_to_the_last() -> None:
    assert (clock_of(DAY.time_of(0)), clock_of(DAY.time_of(len(DAY)))) == ("06:20:00", "17:40:00")
    assert DAY.clear.up.all()


def test_trees_cut_the_day_and_a_tree_in_between_does_not() -> None:
    """At the equator of an equinox the sun climbs 15° an hour from due east over the zenith."""
    hedge = Place(0.0, 0.0, 0.0, ((0.0, 0.0), (80.0, 30.0), (100.0, 30.0), (180.0, 0.0)))
    day = day_ahead(TABLE, hedge)
    assert clock_of(day.time_of(0)) == "08:00:00"
    assert clock_of(day.time_of(len(day))) == "17:40:00"


def test_a_day_under_way_begins_now_and_an_early_loading_before_the_sun() -> None:
    assert clock_of(day_ahead(TABLE, EQUATOR, hour(10.01)).time_of(0)) == "10:05:00"
    assert clock_of(day_ahead(TABLE, EQUATOR, None, hour(5.0)).time_of(0)) == "05:00:00"
    assert len(day_ahead(TABLE, EQUATOR, hour(18.0))) == 0


def test_a_cooker_that_is_turned_stays_near_the_sun() -> None:
    """The sun goes 15° an hour there, so at most that much after an hour; nobody aims within 3°."""
    misaim = DAY.turned(3600.0)
    assert misaim.min() == 3.0
    assert 12.0 < misaim.max() < 15.0
    assert DAY.left(0)[-1] > 150.0
