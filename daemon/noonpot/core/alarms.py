"""The alarm life cycle of IEC 62682 / ISA-18.2 as a pure state machine."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import AlarmPolicy, Manners
from noonpot.errors import CookError


class AlarmState(StrEnum):
    """The states of an alarm, in the standard's words."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"


COVERS = (AlarmState.SHELVED, AlarmState.SUPPRESSED)
"""States that hide another one. Beneath them the life cycle goes on."""
USUAL = Manners()


@dataclass(frozen=True, slots=True)
class AlarmRecord:
    """Where one alarm of one cooker stands.

    ``since`` is when the state was entered. ``rising_s`` / ``falling_s`` are the monotonic times at
    which the condition began to hold / to be gone while a delay runs, None when none runs; while
    the on-delay runs ``falling_s`` is since when the condition is unknown, None while it is known.
    ``told_s`` is the monotonic time at which a person was last told of it, or answered; None while
    a new occurrence waits to be told, ``tellings`` how often this occurrence was told. ``until_s``
    ends a shelving. ``beneath`` is the state that a shelved or suppressed alarm would be in.
    ``latched``: the condition is gone, but the alarm stays until it is reset; the standard calls
    these states latched (un)acknowledged. ``subject`` is what the condition is about (a probe,
    say); another subject, another occurrence.
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
    tellings: int = 0
    beneath: AlarmState = AlarmState.NORMAL
    latched: bool = False

    @property
    def standing(self) -> AlarmState:
        """The state, whether it is hidden or not."""
        return self.beneath if self.state in COVERS else self.state

    @property
    def active(self) -> bool:
        """Whether the condition is held to be present, acknowledged or not, hidden or not."""
        return self.standing in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)

    @property
    def words(self) -> str:
        """What a person is told: the text, and from the second time on that it is a repetition."""
        return f"REPEAT {self.tellings - 1}: {self.text}" if self.tellings > 1 else self.text


@dataclass(frozen=True, slots=True)
class Condition:
    """What the rules say of one alarm now.

    ``active`` is None when it cannot be known: that neither raises nor clears. ``suppressed`` hides
    the alarm by design. ``text`` is what a person would be told. ``reset``: what it was about is
    over (the pot was emptied, say), so it does not stay latched.
    """

    active: bool | None
    subject: str = ""
    text: str = ""
    suppressed: bool = False
    reset: bool = False


def fresh(cooker: str, alarm: str, now: Moment) -> AlarmRecord:
    """An alarm nothing is known of yet."""
    return AlarmRecord(cooker, alarm, AlarmState.NORMAL, now)


def step(
    record: AlarmRecord,
    condition: Condition,
    now: Moment,
    policy: AlarmPolicy,
    manners: Manners = USUAL,
    *,
    quiet: bool = False,
) -> AlarmRecord:
    """The alarm after one look at its condition, and after what it had to say was said.

    A condition must hold for the whole on-delay before it raises, and be gone for the whole
    off-delay before it returns. Missing data must neither raise nor clear an alarm: the on-delay
    stands still while the condition is unknown, and one unknown look restarts the off-delay. A
    shelved or suppressed alarm is looked at like any other, and says
    nothing; when it comes back, it shows how things stand. ``quiet``: it is within the quiet hours.
    """
    if policy.safety:
        policy = policy.made_safe()
    after = _judged(_with(record, state=record.standing), condition, now, policy)
    cover = _cover(record, condition, now, policy)
    if cover is not None:
        since = record.since if record.state is cover else now
        return replace(after, state=cover, since=since, beneath=after.state)
    if record.state in COVERS:
        after = _uncovered(record, after, now)
    return _spoken(after, condition, now, policy, manners, quiet=quiet)


def acknowledge(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """The alarm once a person has seen it, or done what it asks for."""
    match record.standing:
        case AlarmState.UNACKNOWLEDGED:
            seen = AlarmState.ACKNOWLEDGED
            return _recovered(record, replace(record, state=seen, since=now, told_s=now.mono_s))
        case AlarmState.RETURNED_UNACKNOWLEDGED:
            return _recovered(record, replace(record, state=AlarmState.NORMAL, since=now))
        case _:
            return record


def reset(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """The alarm once what it was about is gone, latched or not."""
    after = replace(
        record,
        state=AlarmState.NORMAL,
        since=record.since if record.standing is AlarmState.NORMAL else now,
        rising_s=None,
        falling_s=None,
        told_s=None,
        latched=False,
    )
    return _recovered(record, after)


def shelve(
    record: AlarmRecord,
    now: Moment,
    seconds: float,
    policy: AlarmPolicy,
    manners: Manners = USUAL,
) -> AlarmRecord:
    """The alarm put away for a while; it comes back by itself, after 0 s at once.

    Raises CookError for an alarm about people's health, and for a time that is too long.
    """
    if policy.safety:
        raise CookError(
            f"{record.alarm} of {record.cooker} guards people's health and cannot be put off; "
            "look at the food, then acknowledge it"
        )
    if not 0 <= seconds <= manners.shelve_s:
        raise CookError(
            f"shelve of {record.cooker}: {seconds / 60:g} minutes, but must be 0 to "
            f"{manners.shelve_s / 60:g}; put it off again later"
        )
    since = record.since if record.state is AlarmState.SHELVED else now
    return replace(
        record,
        state=AlarmState.SHELVED,
        since=since,
        beneath=record.standing,
        until_s=now.mono_s + seconds,
    )


def is_moved(before: AlarmRecord, after: AlarmRecord) -> bool:
    """Whether the alarm stands elsewhere in its life cycle, or is a new occurrence."""
    return after.state is not before.state or after.occurrence != before.occurrence


def is_told(before: AlarmRecord, after: AlarmRecord) -> bool:
    """Whether a person must be told: of a new occurrence, or once more of one nobody answered."""
    told = (after.occurrence, after.tellings)
    return after.tellings > 0 and told != (before.occurrence, before.tellings)


def _cover(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmState | None:
    """What hides the alarm now; nothing may hide one about people's health."""
    if policy.safety:
        return None
    if condition.suppressed:
        return AlarmState.SUPPRESSED
    shelved = record.until_s is not None and now.mono_s < record.until_s
    return AlarmState.SHELVED if shelved else None


def _uncovered(record: AlarmRecord, after: AlarmRecord, now: Moment) -> AlarmRecord:
    """The alarm as it comes to light. Whoever put it off wanted to be told again."""
    again = record.until_s is not None and after.state is AlarmState.UNACKNOWLEDGED
    return replace(
        after,
        since=now,
        until_s=None,
        beneath=AlarmState.NORMAL,
        told_s=None if again else after.told_s,
    )


def _recovered(record: AlarmRecord, after: AlarmRecord) -> AlarmRecord:
    """What happens to a hidden alarm happens beneath its cover."""
    if record.state not in COVERS:
        return after
    return replace(after, state=record.state, since=record.since, beneath=after.state)


def _judged(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    if condition.active is None:
        return _unknown(record, now)
    if condition.active:
        return _present(_known_again(record, now), condition, now, policy)
    if record.rising_s is not None:
        record = replace(record, rising_s=None, falling_s=None)
    return _absent(record, condition, now, policy)


def _unknown(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """The off-delay is over, the on-delay stands still."""
    if record.rising_s is None:
        return _with(record, falling_s=None)
    return record if record.falling_s is not None else replace(record, falling_s=now.mono_s)


def _known_again(record: AlarmRecord, now: Moment) -> AlarmRecord:
    """The off-delay is over, and the on-delay goes on from where it stood."""
    if record.rising_s is None or record.falling_s is None:
        return _with(record, falling_s=None)
    stood_s = now.mono_s - record.falling_s
    return replace(record, rising_s=record.rising_s + stood_s, falling_s=None)


def _with(record: AlarmRecord, **changes: Any) -> AlarmRecord:
    """The record with these values: itself where it has them, as at most looks it does."""
    if all(getattr(record, key) == value for key, value in changes.items()):
        return record
    return replace(record, **changes)


def _raise(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    return replace(
        record,
        state=AlarmState.UNACKNOWLEDGED,
        since=now,
        occurrence=record.occurrence + 1,
        subject=condition.subject,
        text=condition.text,
        priority=policy.priority,
        rising_s=None,
        told_s=None,
        tellings=0,
        latched=False,
    )


def _present(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    seen = record.state is AlarmState.ACKNOWLEDGED
    if record.active and not (seen and record.latched):
        another = condition.subject != record.subject
        again = seen and _since_told(record, now, policy.re_alarm_s)
        if another or again:
            return _raise(record, condition, now, policy)
        return _with(record, latched=False)
    rising_s = now.mono_s if record.rising_s is None else record.rising_s
    spaced = (
        record.told_s is None
        or condition.subject != record.subject
        or _since_told(record, now, policy.spacing_s)
    )
    if now.mono_s - rising_s >= policy.on_delay_s and spaced:
        return _raise(record, condition, now, policy)
    return _with(record, rising_s=rising_s)


def _absent(
    record: AlarmRecord, condition: Condition, now: Moment, policy: AlarmPolicy
) -> AlarmRecord:
    if not record.active or (record.latched and not condition.reset):
        return record
    falling_s = now.mono_s if record.falling_s is None else record.falling_s
    if now.mono_s - falling_s < policy.off_delay_s:
        return replace(record, falling_s=falling_s)
    if policy.latched and not condition.reset:
        return replace(record, falling_s=None, latched=True)
    seen = record.state is AlarmState.ACKNOWLEDGED
    gone = AlarmState.NORMAL if seen else AlarmState.RETURNED_UNACKNOWLEDGED
    return replace(record, state=gone, since=now, falling_s=None, latched=False)


def _since_told(record: AlarmRecord, now: Moment, seconds: float | None) -> bool:
    """Whether a person was told, or answered, at least so long ago; None is never."""
    if seconds is None or record.told_s is None:
        return False
    return now.mono_s - record.told_s >= seconds


def _spoken(
    record: AlarmRecord,
    condition: Condition,
    now: Moment,
    policy: AlarmPolicy,
    manners: Manners,
    *,
    quiet: bool,
) -> AlarmRecord:
    """The alarm after it told a person what it has to tell now, if it has."""
    held = quiet and policy.priority is Priority.LOW and not policy.safety
    if record.state is not AlarmState.UNACKNOWLEDGED or held:
        return record
    if record.told_s is not None:
        if not _is_repeated(record, condition, now, policy, manners):
            return record
    elif now.mono_s - record.since.mono_s >= policy.expires_s and not policy.safety:
        return replace(record, told_s=now.mono_s)  # held for too long to be worth a word
    text = condition.text if condition.active and condition.text else record.text
    return replace(record, told_s=now.mono_s, tellings=record.tellings + 1, text=text)


def _is_repeated(
    record: AlarmRecord,
    condition: Condition,
    now: Moment,
    policy: AlarmPolicy,
    manners: Manners,
) -> bool:
    """Whether it is time to say again what nobody answered. What may not hold any more is not
    repeated, except about people's health.
    """
    if policy.escalate_s is None:
        return False
    most = manners.repeats if policy.repeats is None else min(manners.repeats, policy.repeats)
    if not policy.safety and (not condition.active or record.tellings > most):
        return False
    doublings = max(min(record.tellings, manners.repeats) - 1, 0)
    return _since_told(record, now, policy.escalate_s * 2**doublings)
