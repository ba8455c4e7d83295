"""The alarm life cycle of IEC 62682 / ISA-18.2 as a pure state machine."""

from dataclasses import dataclass, replace
from enum import StrEnum

from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import AlarmPolicy


class AlarmState(StrEnum):
    """The states of an alarm, in the standard's words."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"


@dataclass(frozen=True, slots=True)
class AlarmRecord:
    """Where one alarm of one cooker stands.

    ``since`` is when the state was entered. ``rising_s`` / ``falling_s`` are the monotonic times at
    which the condition began to hold / to be gone while a delay runs, None when none runs.
    ``told_s`` is the monotonic time of the last alert, for re-alarm. ``until_s`` ends a shelving.
    ``subject`` is what the condition is about (a probe, say); another subject, another occurrence.
    """

    cooker: str
    alarm: str
    state: AlarmState
    since: Moment
    occurrence: int = 0
    subject: str = ""
    text: str = ""
    priority: Priority = Priority.MEDIUM
    rising_s: float | None = None
    falling_s: float | None = None
    told_s: float | None = None
    until_s: float | None = None

    @property
    def active(self) -> bool:
        """Whether the condition is held to be present, acknowledged or not."""
        return self.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)


@dataclass(frozen=True, slots=True)
class Condition:
    """What the rules say of one alarm now.

    ``active`` is None when it cannot be known: that neither raises nor clears. ``suppressed`` hides
    the alarm by design. ``text`` is what a person would be told.
    """

    active: bool | None
    subject: str = ""
    text: str = ""
    suppressed: bool = False


def fresh(cooker: str, alarm: str, now: Moment) -> AlarmRecord:
    """An alarm nothing is known of yet."""
    return AlarmRecord(cooker, alarm, AlarmState.NORMAL, now)


def step(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    """The alarm after one look at its condition.

    A condition must hold for the whole on-delay before it raises, and be gone for the whole
    off-delay before it returns; one unknown look restarts the off-delay, because missing data must
    never clear an alarm.
    """
    if condition.suppressed:
        return _enter(record, AlarmState.SUPPRESSED, now)
    if record.state is AlarmState.SHELVED:
        if record.until_s is not None and now.mono_s < record.until_s:
            return record
        record = _enter(record, AlarmState.NORMAL, now)
    elif record.state is AlarmState.SUPPRESSED:
        record = _enter(record, AlarmState.NORMAL, now)
    if condition.active is None:
        return replace(record, falling_s=None)
    if condition.active:
        return _present(replace(record, falling_s=None), condition, now, policy)
    return _absent(replace(record, rising_s=None), now, policy)


def acknowledge(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """The alarm once a person has seen it, or done what it asks for."""
    match record.state:
        case AlarmState.UNACKNOWLEDGED:
            return _enter(record, AlarmState.ACKNOWLEDGED, now)
        case AlarmState.RETURNED_UNACKNOWLEDGED:
            return _enter(record, AlarmState.NORMAL, now)
        case _:
            return record


def reset(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """A latched alarm once what it was about is gone."""
    return _enter(record, AlarmState.NORMAL, now)


def shelve(record: AlarmRecord, now: Moment, seconds: float) -> AlarmRecord:
    """The alarm put away for a while; it comes back by itself."""
    return replace(_enter(record, AlarmState.SHELVED, now), until_s=now.mono_s + seconds)


def is_moved(before: AlarmRecord, after: AlarmRecord) -> bool:
    """Whether the alarm stands elsewhere in its life cycle, or is a new occurrence."""
    return after.state is not before.state or after.occurrence != before.occurrence


def is_raised(before: AlarmRecord, after: AlarmRecord) -> bool:
    """Whether a person must be told: the alarm is raised, raised again, or about something else."""
    return after.state is AlarmState.UNACKNOWLEDGED and after.occurrence != before.occurrence


def _enter(record: AlarmRecord, state: AlarmState, now: Moment) -> AlarmRecord:
    if record.state is state:
        return record
    return replace(record, state=state, since=now, rising_s=None, falling_s=None, until_s=None)


def _raise(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    return replace(
        _enter(record, AlarmState.UNACKNOWLEDGED, now),
        occurrence=record.occurrence + 1,
        subject=condition.subject,
        text=condition.text,
        priority=policy.priority,
        told_s=now.mono_s,
    )


def _present(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    if record.active:
        another = condition.subject != record.subject
        again = (
            record.state is AlarmState.ACKNOWLEDGED
            and policy.re_alarm_s is not None
            and record.told_s is not None
            and now.mono_s - record.told_s >= policy.re_alarm_s
        )
        return _raise(record, condition, now, policy) if another or again else record
    rising_s = now.mono_s if record.rising_s is None else record.rising_s
    if now.mono_s - rising_s >= policy.on_delay_s:
        return _raise(record, condition, now, policy)
    return replace(record, rising_s=rising_s)


def _absent(record: AlarmRecord, now: Moment, policy: AlarmPolicy) -> AlarmRecord:
    if not record.active:
        return record
    falling_s = now.mono_s if record.falling_s is None else record.falling_s
    if now.mono_s - falling_s < policy.off_delay_s:
        return replace(record, falling_s=falling_s)
    seen = record.state is AlarmState.ACKNOWLEDGED
    return _enter(record, AlarmState.NORMAL if seen else AlarmState.RETURNED_UNACKNOWLEDGED, now)
