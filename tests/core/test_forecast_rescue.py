"""The rescue time that a forecast carries."""

from collections.abc import Mapping
from datetime import datetime, timedelta

import pytest

from cooks import FOODS, TABLES, recorded
from noonpot.core.cook import Event, EventKind
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast, Forecaster
from noonpot.core.learning import Knowledge
from noonpot.core.moment import iso
from noonpot.core.readings import Role
from noonpot.core.recording import Recording
from noonpot.core.rescue import OtherHeat
from noonpot.core.station import CookerSpec
from skies import EQUATOR, hour

SPEC = CookerSpec("box", 0.25, 30.0)
CHICKEN = {**FOODS, "bread": Food("bread", 90.0, safe_c=74.0)}
"""A loaf that makes people ill unless it gets hot."""


@pytest.fixture(scope="module")
def grey() -> Recording:
    return recorded("bread", index=0.3)


@pytest.fixture(scope="module")
def bright() -> Recording:
    return recorded("bread")


def told(
    recording: Recording,
    now: datetime,
    foods: Mapping[str, Food] = FOODS,
    meal: datetime | None = None,
    heat: OtherHeat | None = None,
) -> Forecast:
    caster = Forecaster(SPEC, EQUATOR, TABLES, Knowledge(), foods, heat=heat)
    for row in recording.rows:
        if row.at > now:
            break
        if row.event is EventKind.LOAD and meal is not None:
            detail = {**row.detail, "meal": iso(meal)}
            caster.event(Event("box", row.at, row.event, detail))
        elif row.event is not None:
            caster.event(Event("box", row.at, row.event, row.detail))
        else:
            caster.observe(row.at, *(row.values.get(role) for role in Role))
    found = caster.forecast(now)
    assert found is not None
    return found


def test_without_a_meal_bread_has_no_rescue_time(grey: Recording) -> None:
    found = told(grey, hour(11))
    assert (found.rescue_at, found.rescue_because) == (None, None)


def test_under_cloud_the_meal_sets_it_and_a_slower_oven_earlier(grey: Recording) -> None:
    usual = told(grey, hour(11), meal=hour(15))
    slow = told(grey, hour(11), meal=hour(15), heat=OtherHeat(oven_s=7200.0))
    assert usual.rescue_because == slow.rescue_because == "meal"
    assert usual.rescue_at is not None
    assert slow.rescue_at is not None
    assert hour(11) < slow.rescue_at < usual.rescue_at < hour(14.75)


def test_food_that_can_make_people_ill_must_be_hot_four_hours_after_loading(
    grey: Recording,
) -> None:
    found = told(grey, hour(11), CHICKEN)
    assert found.rescue_because == "safety"
    assert found.rescue_at is not None
    assert hour(11) < found.rescue_at < hour(13)  # FDA Food Code 3-501.19; loaded at 9:00


def test_unknown_food_is_taken_for_the_worst(grey: Recording) -> None:
    assert told(grey, hour(11), {}).rescue_because == "safety"


def test_food_on_a_good_way_and_food_that_is_done_need_none(bright: Recording) -> None:
    assert told(bright, hour(10), CHICKEN).rescue_at is None
    assert told(bright, hour(13), CHICKEN, meal=hour(12)).rescue_at is None


def test_once_the_sun_is_lost_it_is_now(grey: Recording) -> None:
    now = hour(18)
    found = told(grey, now, CHICKEN)
    assert found.rescue_at is not None
    assert found.rescue_at <= now


def test_the_nearer_the_hour_the_less_is_left_to_chance(bright: Recording) -> None:
    """The poor course draws near to the middle one, so the sun is given longer."""
    early, late = (told(bright, hour(h), meal=hour(10.7)) for h in (9.1, 10.0))
    assert early.rescue_at is not None
    assert late.rescue_at is None or late.rescue_at >= early.rescue_at - timedelta(minutes=1)
