"""The alarm life cycle, transition by transition.

States and transitions: ANSI/ISA-18.2 / IEC 62682 as summarised in OPC UA Part 9 (alarms and
conditions), annex B; the short table was written down from those descriptions.
"""

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import (
    AlarmRecord,
    AlarmState,
    Condition,
    acknowledge,
    fresh,
    is_moved,
    is_raised,
    reset,
    shelve,
    step,
)
from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import AlarmPolicy

START = Moment(datetime(2026, 6, 3, 10, 0, tzinfo=UTC), 1000.0)
AT_ONCE = AlarmPolicy(
    on_delay_s=0, off_delay_s=0, re_alarm_s=None, expires_s=3600, priority=Priority.HIGH
)
DELAYED = replace(AT_ONCE, on_delay_s=60, off_delay_s=120)
PRESENT = Condition(active=True, subject="x", text="look")
ABSENT = Condition(active=False)
UNKNOWN = Condition(active=None)
HIDDEN = Condition(active=None, suppressed=True)


def after(seconds: float) -> Moment:
    return Moment(START.at + timedelta(seconds=seconds), START.mono_s + seconds)


def in_state(state: AlarmState) -> AlarmRecord:
    return replace(fresh("box", "done", START), state=state, subject="x", told_s=START.mono_s)


@pytest.mark.parametrize(
    ("before", "condition", "then"),
    [
        ("normal", PRESENT, "unacknowledged"),  # the condition appears
        ("normal", ABSENT, "normal"),
        ("normal", UNKNOWN, "normal"),  # nothing known raises nothing
        ("unacknowledged", PRESENT, "unacknowledged"),
        ("unacknowledged", ABSENT, "returned-unacknowledged"),  # gone before anybody looked
        ("unacknowledged", UNKNOWN, "unacknowledged"),  # missing data never clears
        ("acknowledged", PRESENT, "acknowledged"),
        ("acknowledged", ABSENT, "normal"),
        ("acknowledged", UNKNOWN, "acknowledged"),  # missing data never clears
        ("returned-unacknowledged", PRESENT, "unacknowledged"),  # it comes back
        ("returned-unacknowledged", ABSENT, "returned-unacknowledged"),  # waits to be seen
        ("normal", HIDDEN, "suppressed"),  # hidden by design, from any state
        ("unacknowledged", HIDDEN, "suppressed"),
        ("acknowledged", HIDDEN, "suppressed"),
        ("returned-unacknowledged", HIDDEN, "suppressed"),
        ("suppressed", ABSENT, "normal"),  # the design lets it be seen again
        ("suppressed", PRESENT, "unacknowledged"),
    ],
)
def test_the_condition_moves_the_alarm_as_the_standard_says(
    before: str, condition: Condition, then: str
) -> None:
    record = step(in_state(AlarmState(before)), condition, after(1), AT_ONCE)
    assert record.state == then


@pytest.mark.parametrize(
    ("before", "then"),
    [
        ("unacknowledged", "acknowledged"),
        ("returned-unacknowledged", "normal"),
        ("acknowledged", "acknowledged"),
        ("normal", "normal"),
        ("shelved", "shelved"),
        ("suppressed", "suppressed"),
    ],
)
def test_acknowledging_moves_the_alarm_as_the_standard_says(before: str, then: str) -> None:
    assert acknowledge(in_state(AlarmState(before)), after(1)).state == then


@pytest.mark.parametrize("before", ["unacknowledged", "acknowledged", "returned-unacknowledged"])
def test_a_latched_alarm_is_reset_to_normal(before: str) -> None:
    assert reset(in_state(AlarmState(before)), after(1)).state is AlarmState.NORMAL


def test_a_condition_must_hold_for_the_whole_on_delay() -> None:
    record = step(fresh("box", "done", START), PRESENT, after(0), DELAYED)
    assert step(record, PRESENT, after(59), DELAYED).state is AlarmState.NORMAL
    assert step(record, PRESENT, after(60), DELAYED).state is AlarmState.UNACKNOWLEDGED


def test_an_interruption_starts_the_on_delay_anew() -> None:
    record = step(fresh("box", "done", START), PRESENT, after(0), DELAYED)
    record = step(record, ABSENT, after(30), DELAYED)
    record = step(record, PRESENT, after(40), DELAYED)
    assert step(record, PRESENT, after(99), DELAYED).state is AlarmState.NORMAL
    assert step(record, PRESENT, after(100), DELAYED).state is AlarmState.UNACKNOWLEDGED


def test_unknown_data_restarts_the_off_delay_because_it_must_never_clear() -> None:
    record = step(in_state(AlarmState.ACKNOWLEDGED), ABSENT, after(0), DELAYED)
    record = step(record, UNKNOWN, after(60), DELAYED)
    record = step(record, ABSENT, after(100), DELAYED)
    assert step(record, ABSENT, after(219), DELAYED).state is AlarmState.ACKNOWLEDGED
    assert step(record, ABSENT, after(220), DELAYED).state is AlarmState.NORMAL


def test_an_acknowledged_alarm_that_stays_is_raised_again_after_the_re_alarm_time() -> None:
    policy = replace(AT_ONCE, re_alarm_s=600)
    record = acknowledge(step(fresh("box", "done", START), PRESENT, START, policy), after(5))
    assert step(record, PRESENT, after(599), policy).state is AlarmState.ACKNOWLEDGED
    again = step(record, PRESENT, after(600), policy)
    assert again.state is AlarmState.UNACKNOWLEDGED
    assert is_raised(record, again)


def test_another_subject_is_another_occurrence_even_while_the_alarm_is_active() -> None:
    first = step(fresh("box", "probe", START), PRESENT, START, AT_ONCE)
    second = step(first, replace(PRESENT, subject="y"), after(1), AT_ONCE)
    assert is_raised(first, second)
    assert second.occurrence == first.occurrence + 1


def test_a_shelved_alarm_returns_by_itself_and_shows_how_things_stand() -> None:
    shelved = shelve(in_state(AlarmState.UNACKNOWLEDGED), START, 300)
    assert step(shelved, PRESENT, after(299), AT_ONCE).state is AlarmState.SHELVED
    assert step(shelved, PRESENT, after(300), AT_ONCE).state is AlarmState.UNACKNOWLEDGED
    assert step(shelved, ABSENT, after(300), AT_ONCE).state is AlarmState.NORMAL


def test_entering_a_state_tells_when() -> None:
    raised = step(fresh("box", "done", START), PRESENT, after(7), AT_ONCE)
    assert raised.since == after(7)
    assert (raised.text, raised.subject, raised.priority) == ("look", "x", Priority.HIGH)


def test_no_walk_through_the_life_cycle_tells_twice_without_a_new_occurrence() -> None:
    """10,000 random looks: every alert is one occurrence, and no clearing rests on missing data."""
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    policy = AlarmPolicy(30, 60, 900, 3600, Priority.LOW)
    record, told, now_s = fresh("box", "done", START), 0, 0.0
    for _ in range(10_000):
        now_s += chance.uniform(1, 40)
        before = record
        if chance.random() < 0.1:
            record = acknowledge(record, after(now_s))
            assert not is_raised(before, record)
            continue
        condition = chance.choice([PRESENT, PRESENT, ABSENT, UNKNOWN, HIDDEN])
        record = step(record, condition, after(now_s), policy)
        told += is_raised(before, record)
        assert told == record.occurrence
        if condition is UNKNOWN and before.active:
            assert not is_moved(before, record)
