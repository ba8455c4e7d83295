"""The life cycle against a second one, written apart from it, on random lives with random kills.

The second one keeps the aspects of OPC UA Part 9 side by side (active, acknowledged, latched,
shelved, suppressed) and lives on wall-clock time; ours is one state on the monotonic clock, and
passes through the real tables of the store whenever the daemon is killed.
"""

import sqlite3
from datetime import UTC, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from noonpot.core import alarms
from noonpot.core.alarms import AlarmRecord, Condition
from noonpot.core.alert import Priority
from noonpot.core.moment import Moment
from noonpot.core.policy import INSIST_S, AlarmPolicy, Manners
from noonpot.errors import CookError
from noonpot.store.alarms import records, save_record
from noonpot.store.migrations import migrate
from noonpot.store.timeline import present

BEGIN = datetime(2026, 6, 3, 10, 0, tzinfo=UTC)
MANNERS = Manners(repeats=2, shelve_s=1000)
POLICIES = [
    AlarmPolicy(0, 0, None, 3600, Priority.MEDIUM),
    AlarmPolicy(30, 60, 300, 3600, Priority.HIGH, escalate_s=120),
    AlarmPolicy(30, 60, None, 400, Priority.LOW, spacing_s=500),
    AlarmPolicy(20, 40, 300, 3600, Priority.HIGH, escalate_s=120, latched=True),
    AlarmPolicy(30, 60, None, 3600, Priority.HIGH, 0, 120, repeats=1, spacing_s=500, latched=True),
    AlarmPolicy(20, 40, 300, 3600, Priority.URGENT, escalate_s=120, latched=True, safety=True),
    AlarmPolicy(0, 30, None, 3600, Priority.LOW, safety=True),
]


class Second:
    """An alarm as five aspects. Times are seconds since the beginning."""

    def __init__(self, policy: AlarmPolicy) -> None:
        self.policy = policy
        self.active = self.latched = self.suppressed = self.shelved = False
        self.acked = True
        self.holds: int | None = None
        self.gone: int | None = None
        self.unknown: int | None = None
        self.heard: int | None = None
        self.shelf_end: int | None = None
        self.shown_since = 0
        self.told = self.occurrence = self.messages = 0
        self.subject = ""

    @property
    def state(self) -> str:
        if self.suppressed:
            return "suppressed"
        if self.shelved:
            return "shelved"
        if self.active:
            return "acknowledged" if self.acked else "unacknowledged"
        return "normal" if self.acked else "returned-unacknowledged"

    def look(self, condition: Condition, now: int, *, quiet: bool) -> None:
        if condition.active is None:
            self.gone = None
            if self.holds is not None and self.unknown is None:
                self.unknown = now
        elif condition.active:
            if self.holds is not None and self.unknown is not None:
                self.holds += now - self.unknown
            self.gone = self.unknown = None
            self._hold(condition.subject, now)
        else:
            self.holds = self.unknown = None
            self._go(now, over=condition.reset)
        was_hidden = self.suppressed or self.shelved
        may_hide = not self.policy.safety
        self.suppressed = may_hide and condition.suppressed
        running = self.shelf_end is not None and now < self.shelf_end
        self.shelved = may_hide and running and not self.suppressed
        if self.suppressed or self.shelved:
            return
        if was_hidden:
            self.shown_since = now
            if self.shelf_end is not None and self.active and not self.acked:
                self.heard = None
            self.shelf_end = None
        if self.active and not self.acked:
            self._speak(condition, now, quiet=quiet)

    def _hold(self, subject: str, now: int) -> None:
        again_s = self.policy.re_alarm_s
        if again_s is None and self.policy.safety:
            again_s = INSIST_S
        if self.active and not (self.latched and self.acked):
            self.latched = False
            forgotten = self.acked and again_s is not None and self._silent(now, again_s)
            if subject != self.subject or forgotten:
                self._rise(subject, now)
            return
        self.holds = now if self.holds is None else self.holds
        same = subject == self.subject
        spaced = self.heard is None or not same or self._silent(now, self.policy.spacing_s)
        if now - self.holds >= self.policy.on_delay_s and spaced:
            self._rise(subject, now)

    def _silent(self, now: int, seconds: float) -> bool:
        return self.heard is not None and now - self.heard >= seconds

    def _rise(self, subject: str, now: int) -> None:
        self.active, self.acked, self.latched = True, False, False
        self.subject, self.holds, self.heard, self.shown_since = subject, None, None, now
        self.told, self.occurrence = 0, self.occurrence + 1

    def _go(self, now: int, *, over: bool) -> None:
        if not self.active or (self.latched and not over):
            return
        self.gone = now if self.gone is None else self.gone
        if now - self.gone < self.policy.off_delay_s:
            return
        self.gone = None
        if self.policy.latched and not over:
            self.latched = True
        else:
            self.active = self.latched = False

    def _speak(self, condition: Condition, now: int, *, quiet: bool) -> None:
        policy = self.policy
        if quiet and policy.priority == "low" and not policy.safety:
            return
        if self.heard is None:
            if policy.safety or now - self.shown_since < policy.expires_s:
                self.told, self.messages = self.told + 1, self.messages + 1
            self.heard = now
            return
        wait_s = policy.escalate_s
        if policy.safety:
            wait_s = INSIST_S if wait_s is None else wait_s
        elif not condition.active or self.told > min(MANNERS.repeats, policy.repeats or 9):
            return
        doubled = [1, 1, 2][min(self.told, MANNERS.repeats)]
        if wait_s is not None and now - self.heard >= wait_s * doubled:
            self.told, self.messages, self.heard = self.told + 1, self.messages + 1, now

    def acknowledge(self, now: int) -> None:
        if self.active and not self.acked:
            self.heard = now
        self.acked = True

    def put_off(self, now: int, seconds: int) -> bool:
        if self.policy.safety or seconds > MANNERS.shelve_s:
            return False
        self.shelf_end, self.shelved, self.suppressed = now + seconds, True, False
        return True

    def reset(self) -> None:
        self.active, self.acked, self.latched = False, True, False
        self.holds = self.gone = self.unknown = self.heard = None


class Lives(RuleBasedStateMachine):
    """One alarm lives, is answered, put off, reset; and its daemon is killed now and then."""

    def __init__(self) -> None:
        super().__init__()
        self.db = sqlite3.connect(":memory:", isolation_level=None)
        self.db.row_factory = sqlite3.Row
        migrate(self.db, "2026-06-03T10:00:00Z")
        self.now, self.boot, self.zero = 0, 1, 5000
        self.messages = 0

    def teardown(self) -> None:
        self.db.close()

    def moment(self) -> Moment:
        return Moment(BEGIN + timedelta(seconds=self.now), float(self.now + self.zero))

    @initialize(policy=st.sampled_from(POLICIES))
    def is_born(self, policy: AlarmPolicy) -> None:
        self.policy, self.second = policy, Second(policy)
        self.record: AlarmRecord = alarms.fresh("box", "done", self.moment())
        self.second.shown_since = self.now

    @rule(
        active=st.sampled_from([True, True, True, False, False, None]),
        seconds=st.sampled_from([1, 10, 30, 70, 250, 600]),
        subject=st.sampled_from(["x", "x", "x", "y"]),
        kind=st.sampled_from(["", "", "", "suppressed", "over"]),
        quiet=st.booleans(),
    )
    def is_looked_at(
        self, active: bool | None, seconds: int, subject: str, kind: str, quiet: bool
    ) -> None:
        self.now += seconds
        condition = Condition(
            active, subject, "look", suppressed=kind == "suppressed", reset=kind == "over"
        )
        before = self.record
        self.record = alarms.step(
            before, condition, self.moment(), self.policy, MANNERS, quiet=quiet
        )
        self.messages += alarms.is_told(before, self.record)
        self.second.look(condition, self.now, quiet=quiet)

    @rule()
    def is_answered(self) -> None:
        self.record = alarms.acknowledge(self.record, self.moment())
        self.second.acknowledge(self.now)

    @rule(seconds=st.sampled_from([0, 60, 400, 2000]))
    def is_put_off(self, seconds: int) -> None:
        try:
            self.record = alarms.shelve(self.record, self.moment(), seconds, self.policy, MANNERS)
            taken = True
        except CookError:
            taken = False
        assert taken == self.second.put_off(self.now, seconds)

    @precondition(lambda self: self.second.latched or self.second.holds is not None)
    @rule()
    def is_reset(self) -> None:
        self.record = alarms.reset(self.record, self.moment())
        self.second.reset()

    @rule(off_s=st.sampled_from([0, 5, 400]), zero=st.integers(10, 90_000))
    def is_killed_and_restored(self, off_s: int, zero: int) -> None:
        """The same boot when it is off for no time, otherwise the machine starts anew."""
        span = present(self.db, f"boot-{self.boot}", self.moment())
        save_record(self.db, span, self.moment(), self.record)
        self.now += off_s
        if off_s:
            self.boot += 1
            self.zero = zero - self.now
        (self.record,) = records(self.db, f"boot-{self.boot}", self.moment())

    @invariant()
    def stands_where_the_other_does(self) -> None:
        second, record = self.second, self.record
        assert record.state.value == second.state
        assert (record.latched, record.occurrence) == (second.latched, second.occurrence)
        assert record.active == second.active
        assert self.messages == second.messages

    @invariant()
    def keeps_its_timers(self) -> None:
        second, record = self.second, self.record
        gone = second.unknown if second.gone is None else second.gone
        theirs = (second.holds, gone, second.heard)
        ours = (record.rising_s, record.falling_s, record.told_s)
        assert ours == tuple(None if at is None else float(at + self.zero) for at in theirs)


TestLives = Lives.TestCase
TestLives.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
