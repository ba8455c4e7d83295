"""The alarm life cycle: delays, latches, what is hidden, and when a person is told, and told again.

Its transitions one by one are in tests/reference/test_alarm_states.py.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import (
    AlarmRecord,
    AlarmState,
    Condition,
    acknowledge,
    fresh,
    is_told,
    reset,
    shelve,
    step,
)
from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import INSIST_S, AlarmPolicy
from noonpot.errors import CookError

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


def test_the_on_delay_stands_still_while_nothing_is_known() -> None:
    record = step(fresh("box", "done", START), PRESENT, after(0), DELAYED)
    for seconds in (40, 400, 4000):
        record = step(record, UNKNOWN, after(seconds), DELAYED)
    record = step(record, PRESENT, after(4000), DELAYED)
    assert record.state is AlarmState.NORMAL
    assert step(record, PRESENT, after(4019), DELAYED).state is AlarmState.NORMAL
    assert step(record, PRESENT, after(4020), DELAYED).state is AlarmState.UNACKNOWLEDGED
    gone = step(step(record, UNKNOWN, after(4010), DELAYED), ABSENT, after(4015), DELAYED)
    assert (gone.rising_s, gone.falling_s) == (None, None)


def test_unknown_data_restarts_the_off_delay_because_it_must_never_clear() -> None:
    record = step(in_state(AlarmState.ACKNOWLEDGED), ABSENT, after(0), DELAYED)
    record = step(record, UNKNOWN, after(60), DELAYED)
    record = step(record, ABSENT, after(100), DELAYED)
    assert step(record, ABSENT, after(219), DELAYED).state is AlarmState.ACKNOWLEDGED
    assert step(record, ABSENT, after(220), DELAYED).state is AlarmState.NORMAL


def test_an_acknowledged_alarm_that_stays_is_told_again_after_the_re_alarm_time() -> None:
    policy = replace(AT_ONCE, re_alarm_s=600)
    record = acknowledge(step(fresh("box", "done", START), PRESENT, START, policy), after(5))
    assert step(record, PRESENT, after(604), policy).state is AlarmState.ACKNOWLEDGED
    again = step(record, PRESENT, after(605), policy)
    assert again.state is AlarmState.UNACKNOWLEDGED
    assert is_told(record, again)


def test_another_subject_is_another_occurrence_even_while_the_alarm_is_active() -> None:
    first = step(fresh("box", "probe", START), PRESENT, START, AT_ONCE)
    second = step(first, replace(PRESENT, subject="y"), after(1), AT_ONCE)
    assert is_told(first, second)
    assert second.occurrence == first.occurrence + 1


def test_a_shelved_alarm_returns_by_itself_and_shows_how_things_stand() -> None:
    shelved = shelve(in_state(AlarmState.UNACKNOWLEDGED), START, 300, AT_ONCE)
    assert step(shelved, PRESENT, after(299), AT_ONCE).state is AlarmState.SHELVED
    back = step(shelved, PRESENT, after(300), AT_ONCE)
    assert (back.state, back.since) == (AlarmState.UNACKNOWLEDGED, after(300))
    assert is_told(shelved, back)  # who puts it off wants to hear of it again
    gone = step(shelved, ABSENT, after(300), AT_ONCE)
    assert gone.state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert not is_told(shelved, gone)


def test_a_shelved_alarm_goes_on_beneath_and_says_nothing() -> None:
    policy = replace(AT_ONCE, escalate_s=60)
    shelved = shelve(fresh("box", "done", START), START, 600, policy)
    raised = step(shelved, PRESENT, after(10), policy)
    assert (raised.state, raised.standing) == (AlarmState.SHELVED, AlarmState.UNACKNOWLEDGED)
    assert raised.active
    later = step(raised, PRESENT, after(500), policy)
    assert not is_told(shelved, later)
    assert later.since == shelved.since
    seen = acknowledge(later, after(510))
    assert (seen.state, seen.standing) == (AlarmState.SHELVED, AlarmState.ACKNOWLEDGED)
    assert step(seen, PRESENT, after(600), policy).state is AlarmState.ACKNOWLEDGED


def test_put_off_for_no_time_it_comes_back_at_once() -> None:
    shelved = shelve(in_state(AlarmState.ACKNOWLEDGED), START, 600, AT_ONCE)
    back = shelve(shelved, after(10), 0, AT_ONCE)
    assert step(back, PRESENT, after(10), AT_ONCE).state is AlarmState.ACKNOWLEDGED


@pytest.mark.parametrize("seconds", [-1.0, 7201.0, float("inf"), float("nan")])
def test_an_alarm_can_be_put_off_for_two_hours_at_most(seconds: float) -> None:
    with pytest.raises(CookError, match="must be 0 to 120; put it off again later"):
        shelve(in_state(AlarmState.UNACKNOWLEDGED), START, seconds, AT_ONCE)


def test_suppression_hides_and_tells_nothing_twice() -> None:
    raised = step(fresh("box", "turn", START), PRESENT, START, AT_ONCE)
    hidden = step(raised, HIDDEN, after(1), AT_ONCE)
    assert (hidden.state, hidden.standing) == (AlarmState.SUPPRESSED, AlarmState.UNACKNOWLEDGED)
    shown = step(hidden, PRESENT, after(2), AT_ONCE)
    assert shown.state is AlarmState.UNACKNOWLEDGED
    assert not is_told(raised, shown)


def test_what_rises_while_it_is_suppressed_is_told_afterwards() -> None:
    hidden = step(fresh("box", "turn", START), replace(PRESENT, suppressed=True), START, AT_ONCE)
    assert not is_told(fresh("box", "turn", START), hidden)
    assert is_told(hidden, step(hidden, PRESENT, after(5), AT_ONCE))


SAFETY = replace(AT_ONCE, safety=True, re_alarm_s=600)


def test_nothing_hides_an_alarm_about_peoples_health() -> None:
    raised = step(fresh("box", "danger-zone", START), PRESENT, START, SAFETY)
    with pytest.raises(CookError, match="guards people's health and cannot be put off"):
        shelve(raised, START, 60, SAFETY)
    assert step(raised, HIDDEN, after(1), SAFETY).state is AlarmState.UNACKNOWLEDGED
    shelved = shelve(raised, START, 600, AT_ONCE)  # before there was chicken in the pot
    assert step(shelved, PRESENT, after(1), SAFETY).state is AlarmState.UNACKNOWLEDGED


def test_acknowledging_quiets_an_alarm_about_peoples_health_for_a_while_only() -> None:
    never = replace(SAFETY, re_alarm_s=None, escalate_s=None)
    for policy, until_s in ((SAFETY, 600), (never, INSIST_S)):
        record = step(fresh("box", "danger-zone", START), PRESENT, START, policy)
        record = acknowledge(record, START)
        assert not is_told(record, step(record, PRESENT, after(until_s - 1), policy))
        assert is_told(record, step(record, PRESENT, after(until_s), policy))


def tellings(policy: AlarmPolicy, condition: Condition, seconds: int) -> list[int]:
    """When an alarm that nobody answers speaks, looked at every ten seconds."""
    record, told = step(fresh("box", "done", START), PRESENT, START, policy), [0]
    for now_s in range(10, seconds, 10):
        before = record
        record = step(before, condition, after(now_s), policy)
        if is_told(before, record):
            told.append(now_s)
            assert record.words == f"REPEAT {len(told) - 1}: look"
    return told


def test_what_nobody_answers_is_told_again_after_growing_waits_and_then_no_more() -> None:
    policy = replace(AT_ONCE, escalate_s=600)
    assert tellings(policy, PRESENT, 40_000) == [0, 600, 1800, 4200]
    assert tellings(AT_ONCE, PRESENT, 40_000) == [0]


def test_an_alarm_can_be_repeated_less_often_than_the_others_but_not_one_about_health() -> None:
    once = replace(AT_ONCE, escalate_s=600, repeats=1)
    assert tellings(once, PRESENT, 40_000) == [0, 600]
    safety = replace(once, safety=True, re_alarm_s=600)
    assert tellings(safety, PRESENT, 7000) == [0, 600, 1800, 4200, 6600]


def test_what_concerns_health_is_told_on_and_on_even_when_nothing_is_known() -> None:
    policy = replace(SAFETY, escalate_s=600)
    expected = [0, 600, 1800, 4200, 6600, 9000]
    assert tellings(policy, PRESENT, 10_000) == expected
    assert tellings(policy, UNKNOWN, 10_000) == expected


def test_what_may_hold_no_more_is_not_repeated() -> None:
    policy = replace(AT_ONCE, escalate_s=600)
    assert tellings(policy, UNKNOWN, 10_000) == [0]
    assert tellings(replace(policy, latched=True), ABSENT, 10_000) == [0]


def test_a_repetition_says_how_things_are_now() -> None:
    policy = replace(AT_ONCE, escalate_s=600)
    record = step(fresh("box", "turn", START), PRESENT, START, policy)
    record = step(record, replace(PRESENT, text="turn to 200°"), after(600), policy)
    assert record.words == "REPEAT 1: turn to 200°"


LOW = replace(AT_ONCE, priority=Priority.LOW)


def test_low_priorities_wait_for_the_end_of_the_quiet_hours() -> None:
    quiet = step(fresh("box", "sky", START), PRESENT, START, LOW, quiet=True)
    assert quiet.state is AlarmState.UNACKNOWLEDGED
    assert not is_told(fresh("box", "sky", START), quiet)
    assert is_told(quiet, step(quiet, PRESENT, after(3599), LOW))
    assert not is_told(quiet, step(quiet, ABSENT, after(3599), LOW))  # it has passed


def test_what_waited_too_long_is_not_told_any_more() -> None:
    quiet = step(fresh("box", "sky", START), PRESENT, START, LOW, quiet=True)
    late = step(quiet, PRESENT, after(3600), LOW)
    assert not is_told(quiet, late)
    assert not is_told(late, step(late, PRESENT, after(7200), LOW))


@pytest.mark.parametrize("policy", [AT_ONCE, replace(LOW, safety=True)])
def test_quiet_hours_hold_back_nothing_else(policy: AlarmPolicy) -> None:
    start = fresh("box", "done", START)
    assert is_told(start, step(start, PRESENT, START, policy, quiet=True))


def test_an_alarm_with_a_spacing_is_not_raised_anew_so_soon() -> None:
    policy = replace(AT_ONCE, spacing_s=3600)
    record = acknowledge(step(fresh("box", "sky", START), PRESENT, START, policy), START)
    record = step(record, ABSENT, after(600), policy)
    assert step(record, PRESENT, after(3599), policy).state is AlarmState.NORMAL
    another = replace(PRESENT, subject="y")
    assert step(record, another, after(700), policy).state is AlarmState.UNACKNOWLEDGED
    assert step(record, PRESENT, after(3600), policy).state is AlarmState.UNACKNOWLEDGED
    anew = reset(record, after(700))  # another load, say
    assert step(anew, PRESENT, after(710), policy).state is AlarmState.UNACKNOWLEDGED


def test_entering_a_state_tells_when() -> None:
    raised = step(fresh("box", "done", START), PRESENT, after(7), AT_ONCE)
    assert raised.since == after(7)
    assert (raised.text, raised.subject, raised.priority) == ("look", "x", Priority.HIGH)


def test_a_reset_starts_every_delay_anew() -> None:
    pending = step(fresh("box", "done", START), PRESENT, START, DELAYED)
    assert reset(pending, after(30)).rising_s is None
    raised = step(pending, PRESENT, after(60), DELAYED)
    again = reset(raised, after(61))
    assert (again.state, again.since) == (AlarmState.NORMAL, after(61))
    assert step(again, PRESENT, after(62), DELAYED).state is AlarmState.NORMAL
