"""The table of alarm states of the standard, transition by transition.

Sources: ANSI/ISA-18.2-2016 and IEC 62682, states and transitions as in the public documentation of
an implementation of them and in OPC UA Part 9 (Alarms and Conditions), annex B.1 and 4.8: shelved
and suppressed alarms are "still fully functional". The latched states are from memory of ISA-18.2.
Ours have six names outside: a latched alarm shows as (un)acknowledged, with ``latched`` set.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import AlarmRecord, Condition, acknowledge, fresh, reset, shelve, step
from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import AlarmPolicy

START = Moment(datetime(2026, 6, 3, 10, 0, tzinfo=UTC), 1000.0)
LATCHING = AlarmPolicy(0, 0, 900, 3600, Priority.HIGH, latched=True)
PLAIN = replace(LATCHING, latched=False)

Happening = Callable[[AlarmRecord, Moment, AlarmPolicy], AlarmRecord]


def sees(*, active: bool | None, suppressed: bool = False, over: bool = False) -> Happening:
    """A look at the condition."""
    condition = Condition(active=active, suppressed=suppressed, reset=over)
    return lambda record, now, policy: step(record, condition, now, policy)


alarm, clear, unknown = sees(active=True), sees(active=False), sees(active=None)
hide, over = sees(active=None, suppressed=True), sees(active=False, over=True)


def ack(record: AlarmRecord, now: Moment, _: AlarmPolicy) -> AlarmRecord:
    return acknowledge(record, now)


def put_off(record: AlarmRecord, now: Moment, policy: AlarmPolicy) -> AlarmRecord:
    return shelve(record, now, 600, policy)


def operator_reset(record: AlarmRecord, now: Moment, _: AlarmPolicy) -> AlarmRecord:
    return reset(record, now)


# How to get into each state of the standard, by its short code, and the policy it takes.
WAYS: dict[str, tuple[AlarmPolicy, list[Happening]]] = {
    "NORM": (PLAIN, []),
    "UNACK": (PLAIN, [alarm]),
    "ACKED": (PLAIN, [alarm, ack]),
    "RTNUN": (PLAIN, [alarm, clear]),
    "LTUNK": (LATCHING, [alarm, clear]),
    "LTACK": (LATCHING, [alarm, ack, clear]),
    "SHLVD": (PLAIN, [alarm, put_off]),
    "DSUPR": (PLAIN, [alarm, hide]),
}


def after(seconds: float) -> Moment:
    return Moment(START.at + timedelta(seconds=seconds), START.mono_s + seconds)


def code(record: AlarmRecord) -> str:
    """The standard's short code for a record of ours."""
    name = record.state.value
    if record.latched:
        return {"unacknowledged": "LTUNK", "acknowledged": "LTACK"}[name]
    return {
        "normal": "NORM",
        "unacknowledged": "UNACK",
        "acknowledged": "ACKED",
        "returned-unacknowledged": "RTNUN",
        "shelved": "SHLVD",
        "suppressed": "DSUPR",
    }[name]


def in_state(name: str) -> tuple[AlarmRecord, AlarmPolicy]:
    policy, way = WAYS[name]
    record = fresh("box", "done", START)
    for seconds, happening in enumerate(way):
        record = happening(record, after(seconds), policy)
    return record, policy


@pytest.mark.parametrize("name", WAYS)
def test_every_state_of_the_standard_can_be_reached(name: str) -> None:
    assert code(in_state(name)[0]) == name


@pytest.mark.parametrize(
    ("before", "happening", "then"),
    [
        ("NORM", alarm, "UNACK"),
        ("NORM", clear, "NORM"),
        ("NORM", ack, "NORM"),
        ("UNACK", ack, "ACKED"),
        ("UNACK", clear, "RTNUN"),
        ("UNACK", alarm, "UNACK"),
        ("ACKED", clear, "NORM"),
        ("ACKED", alarm, "ACKED"),
        ("ACKED", ack, "ACKED"),
        ("RTNUN", ack, "NORM"),
        ("RTNUN", alarm, "UNACK"),
        ("RTNUN", clear, "RTNUN"),
        ("LTUNK", ack, "LTACK"),
        ("LTUNK", clear, "LTUNK"),
        ("LTUNK", alarm, "UNACK"),
        ("LTUNK", operator_reset, "NORM"),
        ("LTUNK", over, "RTNUN"),  # by design; nobody has seen it
        ("LTACK", ack, "LTACK"),
        ("LTACK", clear, "LTACK"),
        ("LTACK", alarm, "UNACK"),
        ("LTACK", operator_reset, "NORM"),
        ("LTACK", over, "NORM"),
        *((name, put_off, "SHLVD") for name in WAYS if not name.startswith("LT")),
        *((name, hide, "DSUPR") for name in WAYS if not name.startswith("LT")),
        ("SHLVD", alarm, "SHLVD"),
        ("SHLVD", ack, "SHLVD"),
        ("DSUPR", ack, "DSUPR"),
        ("DSUPR", alarm, "UNACK"),
        ("DSUPR", clear, "RTNUN"),
    ],
)
def test_a_transition_leads_where_the_standard_says(
    before: str, happening: Happening, then: str
) -> None:
    record, policy = in_state(before)
    assert code(happening(record, after(10), policy)) == then


@pytest.mark.parametrize("name", [name for name in WAYS if name != "DSUPR"])
def test_missing_data_moves_no_alarm(name: str) -> None:
    record, policy = in_state(name)
    assert code(unknown(record, after(10), policy)) == name


def test_an_acknowledged_alarm_is_raised_again_after_the_re_alarm_time() -> None:
    record, policy = in_state("ACKED")
    assert code(alarm(record, after(900), policy)) == "ACKED"
    assert code(alarm(record, after(901), policy)) == "UNACK"  # acknowledged at 1 s


@pytest.mark.parametrize(
    ("meanwhile", "then"),
    [
        ([alarm], "UNACK"),
        ([clear], "RTNUN"),
        ([ack, alarm], "ACKED"),
        ([ack, clear], "NORM"),
        ([clear, ack, alarm], "UNACK"),
        ([unknown], "UNACK"),
    ],
)
def test_a_shelved_alarm_comes_back_by_itself_and_shows_the_present_state(
    meanwhile: list[Happening], then: str
) -> None:
    record, policy = in_state("SHLVD")
    for seconds, happening in enumerate(meanwhile, start=10):
        record = happening(record, after(seconds), policy)
    record = meanwhile[-1](record, after(600), policy)
    assert code(record) == "SHLVD"  # shelved at 1 s for 600 s
    assert code(meanwhile[-1](record, after(601), policy)) == then


def test_a_latched_alarm_keeps_its_latch_beneath_a_shelving() -> None:
    record, policy = in_state("LTACK")
    shelved = put_off(record, after(10), policy)
    assert shelved.state.value == "shelved"
    assert code(clear(shelved, after(610), policy)) == "LTACK"
