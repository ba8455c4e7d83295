"""What to do next: one sentence for every stage of a cook."""

from dataclasses import replace
from datetime import timedelta

import pytest

from engine.kitchen import HOUSE
from noonpot.core.advice import advice
from noonpot.core.alarms import AlarmRecord, AlarmState, fresh
from noonpot.core.alert import Priority
from noonpot.core.cook import Aim, Cook, Load
from noonpot.core.facts import Case, Facts
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.rules import RULES
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky
from simday import at

NOW = Moment(at("11:00"), 9000.0)
IDLE = Facts(
    CookerSpec("box"), None, None, None, None, None, None, None, (), NOW.at, 0.0, at=NOW.at
)
BREAD = HOUSE.foods["bread"]
BEGUN = Cook("box", at("09:00"), "bread")
AIMED = replace(BEGUN, aim=Aim(120.0, 50.0))
LOADED = replace(AIMED, load=Load(at("10:00"), "bread", 0.6))
LIKELY = Forecast(NOW.at, 94.0, 0.93, at("11:31"), at("11:52"), at("12:40"))


def said(facts: Facts, *records: AlarmRecord) -> str:
    known = {name: fresh("box", name, NOW) for name in RULES} | {r.alarm: r for r in records}
    return advice(Case(facts, known, HOUSE.policies, HOUSE.limits, HOUSE.wording)).text


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (IDLE, "Nothing cooks here."),
        (replace(IDLE, cook=BEGUN, food=BREAD), "Heat the empty pot to 110 °C."),
        (
            replace(IDLE, cook=BEGUN, food=BREAD, pot_c=84.0),
            "Heat the empty pot: 84 °C of 110 °C so far.",
        ),
        (replace(IDLE, cook=Cook("box", at("09:00"), "stew")), "Put the food in, and say so."),
        (
            replace(IDLE, cook=replace(LOADED, aim=None)),
            "Say where the cooker points: only then can you be told when to turn it.",
        ),
        (replace(IDLE, cook=LOADED), "Leave it closed. The forecast follows."),
        (
            replace(IDLE, cook=LOADED, forecast=LIKELY),
            "Leave it closed. Done about 11:52; you will be told.",
        ),
        (
            replace(IDLE, cook=LOADED, forecast=replace(LIKELY, p_done=0.5)),
            "Leave it closed, and have another heat ready: the chance is 50 %.",
        ),
        (
            replace(
                IDLE,
                cook=LOADED,
                forecast=replace(LIKELY, p_done=0.5, rescue_at=NOW.at + timedelta(hours=1)),
            ),
            "Leave it closed; another heat must be ready by 12:00: the chance is 50 %.",
        ),
        (
            replace(IDLE, cook=LOADED, forecast=replace(LIKELY, p_done=0.1)),
            "Cook it another way: the sun gets it done with a chance of 10 % only.",
        ),
    ],
)
def test_every_stage_has_its_sentence(facts: Facts, words: str) -> None:
    assert said(facts) == words


def raised(alarm: str, priority: Priority, text: str) -> AlarmRecord:
    record = replace(fresh("box", alarm, NOW), priority=priority, text=text)
    return replace(record, state=AlarmState.UNACKNOWLEDGED)


TURN = raised("turn", Priority.MEDIUM, "box: sun is 19° off. Turn to 91°.")
DONE = raised("done", Priority.HIGH, "box: bread is done. Take it out with gloves.")
COOKING = replace(IDLE, cook=LOADED, forecast=LIKELY, target_c=94.0)


def test_the_most_important_alarm_speaks_first_without_the_name_of_the_cooker() -> None:
    assert said(COOKING, TURN, DONE) == "Bread is done. Take it out with gloves."


def test_the_sun_has_gone_on_since_the_alarm_was_raised() -> None:
    """Who reads it an hour later must not turn to where the sun was."""
    sun = SunSky(139.6, 58.0, 900.0, 800.0, 100.0)
    now = replace(COOKING, sun=sun, sun_up=True, misaim_deg=31.0)
    assert "91°" not in said(now, TURN)
    assert said(now, TURN).startswith("Sun is 31° off. Turn to 140° true")


def test_what_cannot_be_judged_now_is_told_as_it_was() -> None:
    assert said(COOKING, TURN) == "Sun is 19° off. Turn to 91°."


def test_what_is_over_is_not_asked_for_though_its_alarm_still_waits_to_go() -> None:
    preheated = raised("preheated", Priority.MEDIUM, "box: pot has 112 °C. Put the bread in.")
    assert said(IDLE, preheated) == "Nothing cooks here."
    moved = raised("rescue", Priority.HIGH, "box: only a 12 % chance. Move it by 12:25.")
    assert said(COOKING, moved).startswith("Leave it closed.")
    assert said(COOKING, replace(moved, latched=True)) == "Only a 12 % chance. Move it by 12:25."


def test_what_will_be_done_soon_is_told_by_the_newest_forecast() -> None:
    soon = raised("soon", Priority.MEDIUM, "box: bread will be done about 11:40. Be there.")
    assert said(COOKING, soon) == "Be there, with gloves: done about 11:52."


def test_what_must_hold_its_heat_is_done_later_than_it_reaches_its_target() -> None:
    beans = replace(COOKING, food=replace(BREAD, hold_s=7200.0))
    assert said(beans) == "Leave it closed. Done about 13:52; you will be told."
    reached = replace(LIKELY, p_done=1.0, done_p50=at("10:30"))
    assert said(replace(beans, forecast=reached)) == "Leave it closed and hot until about 12:30."


def test_after_the_food_was_taken_out_nobody_is_told_to_put_it_in() -> None:
    out = replace(IDLE, cook=AIMED, food=BREAD, pot_c=90.0, emptied=True)
    assert said(out).startswith("It is out.")


def test_a_rescue_time_that_has_passed_is_not_foretold() -> None:
    late = replace(LIKELY, p_done=0.5, rescue_at=at("10:50"))
    assert said(replace(COOKING, forecast=late)).startswith("Another heat was wanted by 10:50;")


def test_what_a_person_put_off_is_not_said_again() -> None:
    put_off = replace(TURN, state=AlarmState.SHELVED)
    assert said(COOKING, put_off).startswith("Leave it closed.")
