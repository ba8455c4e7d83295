"""The aim for an absence: the best of all aims, honest about its price, and right for the load."""

from dataclasses import replace

import pytest

from cooks import FOODS, TABLES, hear, recorded
from noonpot.core.absence import Absence, LeftAim, for_light
from noonpot.core.cook import Aim, Event, EventKind
from noonpot.core.forecast import Forecaster
from noonpot.core.learning import Knowledge, learn
from noonpot.core.recording import Recording
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import angle_between
from skies import EQUATOR, geometric_table, hour

BOX = CookerSpec("box")
NORTH = Place(45.0, 0.0, 0.0)
SOUTH = Place(-35.0, 20.0, 0.0)
TREES = ((190.0, 0.0), (200.0, 60.0), (280.0, 60.0), (290.0, 0.0))


def away(begin_h: float, end_h: float, place: Place = NORTH) -> Absence:
    return Absence(hour(begin_h, place).timestamp(), hour(end_h, place).timestamp())


def found(absence: Absence, place: Place = NORTH, spec: CookerSpec = BOX) -> LeftAim:
    table = geometric_table(place)
    best = for_light([table], place, spec, Knowledge(), absence)
    assert best is not None
    return best


@pytest.mark.parametrize(("place", "bearing"), [(NORTH, 180.0), (SOUTH, 0.0)])
@pytest.mark.parametrize("half_h", [0.5, 2.0, 4.0])
def test_around_noon_the_cooker_looks_along_the_meridian(
    place: Place, bearing: float, half_h: float
) -> None:
    best = found(away(12 - half_h, 12 + half_h, place), place).aim
    assert angle_between(best.azimuth_deg, 0.0, bearing, 0.0) < 1.0


def test_for_a_short_absence_it_looks_at_the_sun_of_its_middle() -> None:
    sun = geometric_table(NORTH).at(hour(9.25))
    best = found(away(9.0, 9.5)).aim
    aim = (best.azimuth_deg, best.elevation_deg)
    assert angle_between(*aim, sun.azimuth_deg, sun.elevation_deg) < 0.3


def test_trees_in_the_afternoon_turn_the_aim_to_the_morning() -> None:
    free, trees = found(away(9, 16)), found(away(9, 16), replace(NORTH, horizon=TREES))
    assert trees.aim.azimuth_deg < free.aim.azimuth_deg - 5


def test_the_longer_the_absence_the_higher_its_price() -> None:
    costs = [found(away(10, 10 + hours)).cost for hours in (0.5, 1.5, 3.0, 6.0)]
    assert costs[0] == pytest.approx(0.0, abs=0.001)
    assert costs == sorted(costs)
    assert 0.2 < costs[-1] < 0.6


def test_without_sun_there_is_no_aim() -> None:
    assert for_light([geometric_table(NORTH)], NORTH, BOX, Knowledge(), away(18.5, 20)) is None


def test_an_absence_of_no_length_is_none() -> None:
    with pytest.raises(ValueError, match="an absence of 0 s"):
        Absence(5.0, 5.0)


@pytest.fixture(scope="module")
def taught() -> Knowledge:
    past = [recorded("bread", mass_kg=0.7, seed=5), recorded("bread", seed=6)]
    return replace(learn(past, BOX, TABLES, FOODS), cooks=99, turned=0)  # nobody ever turns it


def loaf(knowledge: Knowledge, now_h: float, mass_kg: float) -> Forecaster:
    """A forecaster that has seen a loaf up to now, and was never told where the cooker points."""
    caster = Forecaster(BOX, EQUATOR, TABLES, knowledge, FOODS)
    seen = recorded("bread", mass_kg=mass_kg)
    rows = [row for row in seen.rows if row.event is not EventKind.AIM]
    hear(caster, Recording(seen.header, rows), hour(now_h))
    return caster


def chance(caster: Forecaster, now_h: float, aim: Aim) -> float:
    """The chance of being done if the cooker is pointed there now and left alone for the day."""
    where = {"azimuth": str(aim.azimuth_deg), "elevation": str(aim.elevation_deg)}
    caster.event(Event("box", hour(now_h), EventKind.AIM, where))
    said = caster.forecast(hour(now_h))
    assert said is not None
    return said.p_done


def test_no_aim_of_many_gets_the_load_done_more_likely(taught: Knowledge) -> None:
    caster = loaf(taught, 9.5, mass_kg=3.0)
    best = caster.leave(hour(9.5), away(9.5, 18.0, EQUATOR))
    assert best is not None
    assert best.left is not None
    assert best.turned is not None
    assert chance(loaf(taught, 9.5, 3.0), 9.5, best.aim) == pytest.approx(
        best.left.p_done, abs=0.03
    )
    others = [Aim(a, e) for a, e in ((90, 55), (90, 65), (90, 75), (90, 85), (270, 80), (270, 60))]
    chances = [chance(loaf(taught, 9.5, 3.0), 9.5, other) for other in others]
    assert max(chances) <= best.left.p_done + 0.03
    assert min(chances) < best.left.p_done - 0.1
    assert best.left.p_done < best.turned.p_done


def test_who_leaves_later_has_turned_until_then(taught: Knowledge) -> None:
    turning = replace(taught, turned=99)
    now, later = (
        loaf(turning, 9.5, mass_kg=3.0).leave(hour(9.5), away(begin_h, 14.5, EQUATOR))
        for begin_h in (9.5, 11.5)
    )
    assert now is not None
    assert later is not None
    assert now.left is not None
    assert later.left is not None
    assert later.left.p_done > now.left.p_done
    assert later.aim.azimuth_deg == pytest.approx(270, abs=15)  # it waits for the afternoon


def test_the_load_asks_for_sun_earlier_than_the_light_alone(taught: Knowledge) -> None:
    absence = away(9.5, 12.5, EQUATOR)
    best = loaf(taught, 9.5, mass_kg=0.8).leave(hour(9.5), absence)
    assert best is not None
    assert best.aim.elevation_deg < found(absence, EQUATOR).aim.elevation_deg - 2


def test_what_is_done_needs_no_aim(taught: Knowledge) -> None:
    assert loaf(taught, 12.5, mass_kg=0.8).leave(hour(12.5), away(12.5, 15, EQUATOR)) is None


def test_without_load_or_sun_no_ending_is_told(taught: Knowledge) -> None:
    assert loaf(taught, 8.5, mass_kg=0.8).leave(hour(8.5), away(9, 10, EQUATOR)) is None
    assert loaf(taught, 9.5, mass_kg=3.0).leave(hour(9.5), away(18, 19, EQUATOR)) is None
