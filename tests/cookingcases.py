"""Bread and stew in a box, as the rules see them, and what each of their alarms then says."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from noonpot.core.alarms import AlarmState, fresh
from noonpot.core.cook import Cook, Load
from noonpot.core.facts import Case, Facts
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.policy import RuleLimits
from noonpot.core.rescue import Because
from noonpot.core.rules import DEFAULT_POLICIES, RULES
from noonpot.core.station import CookerSpec
from noonpot.core.wording import Wording

AT = datetime(2026, 6, 3, 11, 42, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


FORECAST = Forecast(
    AT,
    92.0,
    0.12,
    at(10),
    at(15),
    at(43),
    clear_sky_index=0.4,
    rescue_at=at(43),
    rescue_because=Because.MEAL,
    p_in_time=0.12,
    cloud_cost_s=1500.0,
)
BREAD = Facts(
    cooker=CookerSpec("box"),
    cook=Cook("box", AT, food="bread", load=Load(AT, "bread", 0.6)),
    food=Food("bread", 92.0),
    target_c=92.0,
    pot_c=100.0,
    core_c=91.0,
    ambient_c=24.0,
    irradiance_wm2=None,
    faults=(),
    heard_at=AT,
    silent_s=2.0,
    at=AT,
    boiling_c=95.0,
    forecast=FORECAST,
)
STEW = replace(
    BREAD, cook=Cook("box", AT, food="stew", load=Load(AT, "stew")), food=Food("stew", 90, wet=True)
)


def said(alarm: str, facts: Facts, done: bool = False) -> str:
    """What a person is told when this alarm is raised."""
    records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    if done:
        records["done"] = replace(records["done"], state=AlarmState.ACKNOWLEDGED)
    condition = RULES[alarm](Case(facts, records, DEFAULT_POLICIES, RuleLimits(), Wording()))
    assert condition.active, alarm
    return condition.text


def examples() -> dict[str, str]:
    """One sentence for each alarm about a load on its way."""
    likely = replace(BREAD, forecast=replace(FORECAST, p_done=0.95, p_in_time=0.9))
    return {
        "soon": said("soon", likely),
        "overdone": said("overdone", BREAD, done=True),
        "boil-dry": said("boil-dry", replace(STEW, core_c=94.0)),
        "sky": said("sky", likely),
        "rescue": said("rescue", BREAD),
    }
