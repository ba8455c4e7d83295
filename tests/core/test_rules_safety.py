"""The alarms about people's health: each at its limit, and never quiet for want of knowledge."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from noonpot.core.alarms import AlarmState, Condition, fresh
from noonpot.core.cook import Cook, Load
from noonpot.core.facts import Case, Facts
from noonpot.core.foods import Food
from noonpot.core.moment import Moment
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Fault, FaultKind
from noonpot.core.rules import DEFAULT_POLICIES, RULES, evaluate
from noonpot.core.rules.safety import POLICIES
from noonpot.core.safety import Course, Safety
from noonpot.core.station import CookerSpec
from noonpot.core.wording import PHONE_LENGTH, Wording
from simday import at

NOON = at("12:00")
CHICKEN = Food("chicken", target_c=82.0, safe_c=74.0)
SAFETY = Safety(
    course=Course(),
    core_c=50.0,
    probes=frozenset({"core"}),
    limit_s=14_400.0,
    spoils_at=NOON + timedelta(hours=1),
)
FACTS = Facts(
    cooker=CookerSpec("box"),
    cook=Cook("box", NOON, food="chicken", load=Load(NOON, "chicken")),
    food=CHICKEN,
    target_c=82.0,
    pot_c=90.0,
    core_c=50.0,
    ambient_c=24.0,
    irradiance_wm2=None,
    faults=(),
    heard_at=NOON,
    silent_s=2.0,
    safety=SAFETY,
)


def facts_of(core_c: float | None = 50.0, *, trusted: bool = True, **course: Any) -> Facts:
    known = replace(SAFETY, course=replace(SAFETY.course, **course), core_c=core_c)
    return replace(FACTS, safety=known, core_c=core_c, clock_trusted=trusted)


def judged(
    facts: Facts, alarm: str, *, active: bool = False, wording: Wording | None = None
) -> Condition:
    records = {name: fresh("box", name, Moment(NOON, 0.0)) for name in RULES}
    if active:
        records[alarm] = replace(records[alarm], state=AlarmState.ACKNOWLEDGED)
    case = Case(facts, records, DEFAULT_POLICIES, RuleLimits(), wording or Wording())
    return evaluate(case)[alarm]


@pytest.mark.parametrize(
    ("danger_s", "spoiled", "expected"),
    [
        (0.0, False, (False, "")),
        (10_799.0, False, (False, "")),
        (10_800.0, False, (True, "nears")),
        (14_400.0, True, (True, "passed")),
    ],
)
def test_the_danger_zone_nears_at_three_of_four_hours_and_then_is_passed(
    danger_s: float, spoiled: bool, expected: tuple[bool, str]
) -> None:
    condition = judged(facts_of(danger_s=danger_s, spoiled=spoiled), "danger-zone")
    assert (condition.active, condition.subject) == expected


def test_the_danger_zone_is_told_with_what_nobody_saw_and_until_when() -> None:
    near = judged(facts_of(danger_s=10_860.0, unknown_s=2400.0), "danger-zone")
    assert near.text == (
        "box: chicken, 181 min at 5 °C to 57 °C, 40 of them unseen; 240 is the limit. "
        "Heat it above 60 °C by 13:00, or discard it."
    )
    passed = judged(facts_of(danger_s=14_460.0, spoiled=True), "danger-zone")
    assert passed.text == (
        "box: chicken, 241 min at 5 °C to 57 °C; 240 was the limit. "
        "Discard it; heat does not mend it."
    )


def test_without_a_clock_one_is_told_within_how_many_minutes() -> None:
    near = judged(facts_of(trusted=False, danger_s=12_000.0), "danger-zone")
    assert "Heat it above 60 °C within 40 min, or discard it." in near.text


@pytest.mark.parametrize("alarm", POLICIES)
def test_while_the_clock_is_not_set_no_alarm_about_health_ends(alarm: str) -> None:
    assert judged(facts_of(trusted=True), alarm).active is False
    assert judged(facts_of(trusted=False), alarm).active is None


@pytest.mark.parametrize("alarm", POLICIES)
def test_once_the_food_is_out_they_are_over(alarm: str) -> None:
    condition = judged(replace(FACTS, safety=None, clock_trusted=False), alarm, active=True)
    assert (condition.active, condition.reset) == (False, True)


@pytest.mark.parametrize("alarm", POLICIES)
def test_nobody_can_put_them_off(alarm: str) -> None:
    assert POLICIES[alarm].safety is True


def test_cooked_food_is_hot_above_57_degrees_and_two_more_once_it_fell_below() -> None:
    cooked: dict[str, Any] = {"cooked": True, "killed": 2.0}
    assert judged(facts_of(57.0, **cooked), "hold").active is False
    assert judged(facts_of(56.9, **cooked), "hold").active is True
    assert judged(facts_of(58.9, **cooked), "hold", active=True).active is True
    assert judged(facts_of(59.0, **cooked), "hold", active=True).active is False
    assert judged(facts_of(None, **cooked), "hold", active=True).active is None
    assert judged(facts_of(40.0), "hold").active is False  # not cooked yet


def test_what_is_to_be_done_with_food_that_gets_lukewarm_is_said() -> None:
    assert judged(facts_of(55.4, cooked=True), "hold").text == (
        "box: chicken was cooked, now its core has cooled to 55 °C. "
        "Eat it by 13:00, heat it above 60 °C, or chill it at once."
    )


def test_cooling_is_said_of_the_stage_that_was_failed() -> None:
    first = judged(facts_of(30.0, cooked=True, late=(21.0, 7200.0)), "cooling")
    assert first.text == (
        "box: chicken cools too slowly: not below 21 °C within 2 h, now 30 °C. "
        "Heat it to 74 °C at once and eat it, or discard it."
    )
    second = judged(facts_of(None, cooked=True, late=(5.0, 21_600.0)), "cooling")
    assert "not below 5 °C within 6 h, now unknown." in second.text
    assert second.subject != first.subject


def test_of_food_that_must_be_discarded_nothing_else_is_said() -> None:
    spoiled = facts_of(30.0, cooked=True, late=(21.0, 7200.0), spoiled=True)
    raised = {alarm for alarm in POLICIES if judged(spoiled, alarm).active}
    assert raised == {"danger-zone"}


def test_food_that_nobody_saw_is_unknown_and_counts_as_unsafe() -> None:
    lost = replace(FACTS, safety=replace(SAFETY, core_c=None, blind_s=720.0))
    assert judged(lost, "food-unknown").text == (
        "box: core of chicken unknown for 12 min, counted as unsafe. "
        "Measure its core by hand; in doubt discard it."
    )


def test_a_monitor_that_was_off_is_said_to_have_been_off() -> None:
    off = replace(FACTS, safety=replace(SAFETY, blind_s=2520.0, off=True, restarted=True))
    assert judged(off, "food-unknown").text == (
        "box: monitor was off for about 42 min (not certain): unsafe time for chicken. "
        "Measure its core by hand; in doubt discard it."
    )


def test_a_restart_without_a_clock_may_have_taken_any_time() -> None:
    back = replace(FACTS, safety=replace(SAFETY, restarted=True))
    assert judged(back, "food-unknown").active is False
    condition = judged(replace(back, clock_trusted=False), "food-unknown")
    assert condition.active is True
    assert "monitor was off for an unknown time:" in condition.text


HOT: dict[str, Any] = {"core_c": 85.0, "killed": 1.0, "cooked": True}


def test_hazardous_food_is_done_by_temperature_and_lethality() -> None:
    assert judged(facts_of(**HOT), "done").active is True
    assert judged(facts_of(85.0, killed=0.99), "done").active is False
    assert judged(facts_of(81.9, killed=5.0), "done").active is False
    assert "Check with a second thermometer." in judged(facts_of(**HOT), "done").text


def test_spoiled_food_is_never_done() -> None:
    assert judged(facts_of(85.0, killed=9.0, spoiled=True), "done").active is False


def test_a_suspect_probe_cannot_say_that_food_is_done() -> None:
    done = facts_of(**HOT)
    for probe, expected in [("core", None), ("pot", True)]:
        fault = Fault(probe, NOON, 0.0, FaultKind.CHECKSUM)
        assert judged(replace(done, faults=(fault,)), "done").active is expected
    assert judged(replace(done, safety=None), "done").active is None
    assert done.safety is not None
    lost = replace(done, safety=replace(done.safety, core_c=None))
    assert judged(lost, "done").active is None


@pytest.mark.parametrize("units", ["C", "F"])
@pytest.mark.parametrize("trusted", [True, False])
def test_every_sentence_fits_a_phone(units: str, trusted: bool) -> None:
    long = "the-longest-name-that-a-cooker-may-have1"
    cook = Cook(long, NOON, load=Load(NOON, "chicken-in-cream-with-forty-cloves-of-ga"))
    course = Course(danger_s=14_000.0, unknown_s=13_900.0)
    safety = replace(SAFETY, course=course, core_c=55.0)
    looks = {
        "danger-zone": [
            safety,
            replace(safety, course=replace(course, danger_s=86_000.0, spoiled=True)),
        ],
        "hold": [replace(safety, course=Course(cooked=True))],
        "cooling": [replace(safety, core_c=None, course=Course(late=(21.0, 7200.0)))],
        "food-unknown": [
            replace(safety, blind_s=86_000.0, off=off, restarted=True) for off in (True, False)
        ],
    }
    assert looks.keys() == POLICIES.keys()
    for alarm, safeties in looks.items():
        for look in safeties:
            facts = replace(
                FACTS, cooker=CookerSpec(long), cook=cook, safety=look, clock_trusted=trusted
            )
            condition = judged(facts, alarm, wording=Wording(units=units))
            assert condition.active is True, alarm
            assert condition.text.startswith(f"{long}: ")
            assert len(condition.text) <= PHONE_LENGTH, (len(condition.text), condition.text)
