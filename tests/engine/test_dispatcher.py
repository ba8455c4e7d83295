"""From the outbox to a notifier: in order, again after failures, settled once."""

import logging
import re
import threading
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fakes import FakeClock, RecordingNotifier
from noonpot.clock import SystemClock
from noonpot.core.alert import Alert, Priority
from noonpot.engine.dispatcher import BATCH, IDLE_S, LOOK_S, TELL_S, Dispatcher
from noonpot.engine.gathering import Gathering, Pace
from noonpot.engine.handover import Handover
from noonpot.engine.rounds import BEAT_S
from noonpot.errors import StoreError
from noonpot.ports import Delivery, Health, Outcome

AT = datetime(2026, 6, 3, 11, 30, tzinfo=UTC)
AWAY = Delivery(Outcome.RETRY, "no broker answers")
MAYBE = Delivery(Outcome.UNSURE, "no outcome within 30 s")
GATHERED = Pace(gather_s=10, spacing_s=600)


def alert(number: int, minutes: float = 30, priority: Priority = Priority.MEDIUM) -> Alert:
    return Alert(
        id=f"alert-{number}",
        at=AT,
        expires_at=AT + timedelta(minutes=minutes),
        cooker="box",
        alarm="turn",
        state="unacknowledged",
        priority=priority,
        text=f"text {number}",
    )


class Box:
    """An outbox in memory; it can be told to fail."""

    def __init__(self, *alerts: Alert) -> None:
        self.alerts = list(alerts)
        self.settled: dict[str, str] = {}
        self.failures = 0
        self.unreadable = False

    def unsent(self, channel: str, limit: int) -> Sequence[Alert]:
        assert channel == "recording"
        if self.unreadable:
            raise StoreError("the card cannot be read")
        return [a for a in self.alerts if a.id not in self.settled][:limit]

    def settle(self, channel: str, alert_id: str, outcome: str) -> None:
        assert channel == "recording"
        if self.failures:
            self.failures -= 1
            raise StoreError("the card cannot be written")
        self.settled[alert_id] = outcome


class Desk:
    """A dispatcher with all that it needs, in reach of the test."""

    def __init__(self, box: Box, *answers: Delivery, pace: Pace | None = None) -> None:
        self.box = box
        self.notifier = RecordingNotifier(*answers)
        self.clock = FakeClock(AT)
        self.health = Health()
        gathering = Gathering(pace) if pace else None
        self.dispatcher = Dispatcher(self.notifier, box, self.clock, self.health, gathering)

    @property
    def told(self) -> list[str]:
        return [a.id for a in self.notifier.told]


def test_alerts_are_told_in_order_and_settled_as_sent() -> None:
    desk = Desk(Box(alert(1), alert(2), alert(3)))
    assert desk.dispatcher.turn() == IDLE_S
    assert desk.told == ["alert-1", "alert-2", "alert-3"]
    assert desk.box.settled == {"alert-1": "sent", "alert-2": "sent", "alert-3": "sent"}
    assert desk.health.counts == {"recording-sent": 3}


def test_nothing_is_told_twice() -> None:
    desk = Desk(Box(alert(1)))
    desk.dispatcher.turn()
    desk.dispatcher.turn()
    assert desk.told == ["alert-1"]


def test_an_alert_that_must_wait_holds_back_those_behind_it() -> None:
    desk = Desk(Box(alert(1), alert(2)), AWAY)
    desk.dispatcher.turn()
    assert (desk.told, desk.box.settled) == ([], {})
    desk.dispatcher.turn()
    assert desk.told == ["alert-1", "alert-2"]


def test_the_wait_doubles_up_to_a_minute_and_starts_small_again_after_success() -> None:
    desk = Desk(Box(alert(1), alert(2)), *[AWAY] * 8, Delivery(Outcome.SENT), AWAY)
    waits = [desk.dispatcher.turn() for _ in range(9)]
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 1]
    assert desk.told == ["alert-1"]


def test_a_kick_makes_the_wait_small_again() -> None:
    desk = Desk(Box(alert(1)), *[AWAY] * 4)
    assert [desk.dispatcher.turn() for _ in range(3)] == [1, 2, 4]
    desk.dispatcher.kick()
    assert desk.dispatcher.turn() == 1


def test_an_expired_alert_is_settled_and_not_told() -> None:
    desk = Desk(Box(alert(1, minutes=5), alert(2, minutes=30)))
    desk.clock.advance(5 * 60)
    desk.dispatcher.turn()
    assert desk.told == ["alert-2"]
    assert desk.box.settled == {"alert-1": "expired", "alert-2": "sent"}


def test_an_alert_that_cannot_be_told_holds_the_others_up_only_until_it_expires() -> None:
    desk = Desk(Box(alert(1, minutes=5), alert(2, minutes=30)), AWAY, AWAY)
    desk.dispatcher.turn()
    desk.clock.advance(299)
    desk.dispatcher.turn()
    assert desk.told == []
    desk.clock.advance(1)
    desk.dispatcher.turn()
    assert desk.told == ["alert-2"]


def test_nothing_expires_by_a_clock_that_is_not_trusted() -> None:
    desk = Desk(Box(alert(1, minutes=5)))
    desk.clock.trust(False)
    desk.clock.step_wall(86_400)
    desk.dispatcher.turn()
    assert desk.told == ["alert-1"]


def test_a_refused_alert_is_settled_and_the_next_one_told() -> None:
    desk = Desk(Box(alert(1), alert(2)), Delivery(Outcome.REFUSED, "it cannot be said"))
    desk.dispatcher.turn()
    assert desk.told == ["alert-2"]
    assert desk.box.settled == {"alert-1": "refused", "alert-2": "sent"}
    assert desk.health.counts == {"recording-refused": 1, "recording-sent": 1}


def test_after_a_full_batch_the_next_turn_comes_at_once() -> None:
    desk = Desk(Box(*(alert(n) for n in range(BATCH + 1))))
    assert desk.dispatcher.turn() == 0
    assert desk.dispatcher.turn() == IDLE_S
    assert desk.told == [f"alert-{n}" for n in range(BATCH + 1)]


def test_an_alert_that_the_store_could_not_settle_is_not_told_again() -> None:
    desk = Desk(Box(alert(1), alert(2)))
    desk.box.failures = 2
    assert desk.dispatcher.turn() == 1
    assert (desk.told, desk.box.settled) == (["alert-1", "alert-2"], {})
    desk.dispatcher.turn()
    assert desk.told == ["alert-1", "alert-2"]
    assert desk.box.settled == {"alert-1": "sent", "alert-2": "sent"}
    assert desk.health.counts["recording-errors"] == 1


def test_outcomes_that_cannot_be_noted_hold_up_no_other_alert() -> None:
    desk = Desk(Box(alert(1), alert(2), alert(3)))
    desk.box.failures = 100
    waits = [desk.dispatcher.turn() for _ in range(3)]
    assert desk.told == ["alert-1", "alert-2", "alert-3"]
    assert waits == [1, 2, 4]
    desk.box.failures = 0
    desk.dispatcher.turn()
    assert set(desk.box.settled) == {"alert-1", "alert-2", "alert-3"}


def test_an_alert_told_but_not_settled_when_the_program_died_comes_again_with_its_id() -> None:
    box = Box(alert(1), alert(2))
    box.failures = 1
    before = Desk(box)
    before.dispatcher.turn()
    after = Desk(box)
    after.dispatcher.turn()
    assert before.told == ["alert-1", "alert-2"]
    assert after.told == ["alert-1"]


class Stumbling(RecordingNotifier):
    """Fails in a way nobody thought of, the first times."""

    def __init__(self, stumbles: int) -> None:
        super().__init__()
        self.stumbles = stumbles

    def tell(self, alert: Alert) -> Delivery:
        if self.stumbles:
            self.stumbles -= 1
            raise ZeroDivisionError("a fault of the notifier")
        return super().tell(alert)


def test_a_notifier_that_breaks_does_not_end_the_telling() -> None:
    box, health, notifier = Box(alert(1)), Health(), Stumbling(2)
    dispatcher = Dispatcher(notifier, box, FakeClock(AT), health)
    assert [dispatcher.turn(), dispatcher.turn()] == [1, 2]
    dispatcher.turn()
    assert box.settled == {"alert-1": "sent"}
    assert health.counts == {"recording-errors": 2, "recording-sent": 1}


def test_a_failure_is_logged_when_it_reads_differently_and_once_when_it_is_over(
    caplog: pytest.LogCaptureFixture,
) -> None:
    other = Delivery(Outcome.RETRY, "the broker refuses the login")
    desk = Desk(Box(alert(1)), AWAY, AWAY, AWAY, other, other)
    with caplog.at_level(logging.INFO):
        for _ in range(8):
            desk.dispatcher.turn()
    assert [record.message for record in caplog.records] == [
        "recording: alerts wait: no broker answers",
        "recording: alerts wait: the broker refuses the login",
        "recording: nothing waits any longer",
    ]


def test_a_lost_alert_is_logged_with_the_reason(caplog: pytest.LogCaptureFixture) -> None:
    desk = Desk(Box(alert(1, minutes=5)), AWAY)
    desk.dispatcher.turn()
    desk.clock.advance(300)
    desk.dispatcher.turn()
    assert "recording: expired alert alert-1: no broker answers" in caplog.messages


def test_an_alert_that_may_have_arrived_comes_twice_at_the_most_and_is_settled() -> None:
    desk = Desk(Box(alert(1), alert(2)), MAYBE, MAYBE)
    assert desk.dispatcher.turn() == 1
    assert desk.box.settled == {}
    desk.dispatcher.turn()
    assert desk.box.settled == {"alert-1": "unconfirmed"}
    assert desk.dispatcher.trouble == "no outcome within 30 s"
    desk.dispatcher.turn()
    assert desk.told == ["alert-2"]
    assert desk.dispatcher.trouble == ""
    assert desk.health.counts == {"recording-unconfirmed": 1, "recording-sent": 1}


def test_an_alert_that_may_have_arrived_and_then_surely_does_is_sent() -> None:
    desk = Desk(Box(alert(1)), MAYBE, AWAY)
    for _ in range(3):
        desk.dispatcher.turn()
    assert desk.box.settled == {"alert-1": "sent"}


def test_gathered_alerts_are_one_message_and_each_settled_with_its_id() -> None:
    desk = Desk(Box(alert(1), alert(2), alert(3)), pace=GATHERED)
    assert desk.dispatcher.turn() == 10
    assert desk.told == []
    desk.clock.advance(10)
    desk.dispatcher.turn()
    assert [a.text for a in desk.notifier.told] == ["3 things:\n- text 1\n- text 2\n- text 3"]
    assert desk.told == ["alert-1"]
    assert desk.box.settled == dict.fromkeys(("alert-1", "alert-2", "alert-3"), "sent")


def test_an_alert_that_expires_while_it_is_gathered_is_not_told_late() -> None:
    desk = Desk(Box(alert(1, minutes=0.1), alert(2)), pace=GATHERED)
    desk.dispatcher.turn()
    desk.clock.advance(10)
    desk.dispatcher.turn()
    assert desk.box.settled == {"alert-1": "expired", "alert-2": "sent"}
    assert desk.told == ["alert-2"]


def test_what_a_channel_does_not_want_is_left_out_and_holds_nobody_up() -> None:
    box = Box(alert(1, priority=Priority.LOW), alert(2, priority=Priority.HIGH))
    desk = Desk(box, pace=Pace(gather_s=0, least=Priority.HIGH))
    desk.dispatcher.turn()
    assert desk.told == ["alert-2"]
    assert box.settled == {"alert-1": "left-out", "alert-2": "sent"}


def test_an_alert_that_could_not_be_stored_is_told_all_the_same_and_only_once() -> None:
    desk = Desk(Box())
    desk.box.unreadable = True
    assert Handover(desk.dispatcher).tell(alert(1)).outcome is Outcome.SENT
    desk.dispatcher.turn()
    assert desk.told == ["alert-1"]
    desk.box.unreadable, desk.box.alerts = False, [alert(1), alert(2)]
    desk.dispatcher.turn()
    assert desk.told == ["alert-1", "alert-2"]
    assert desk.box.settled == {"alert-1": "sent", "alert-2": "sent"}


def test_a_handed_over_alert_waits_for_its_channel() -> None:
    desk = Desk(Box(), AWAY)
    desk.dispatcher.hand(alert(1))
    desk.dispatcher.turn()
    assert (desk.told, desk.dispatcher.failure) == ([], "no broker answers")
    desk.dispatcher.turn()
    assert (desk.told, desk.dispatcher.failure) == (["alert-1"], "")


def test_a_dispatcher_whose_turn_never_ends_is_stalled() -> None:
    desk = Desk(Box())
    assert not desk.dispatcher.stalled(desk.clock.advance(LOOK_S))
    assert desk.dispatcher.stalled(desk.clock.advance(1))


def test_a_dispatcher_is_granted_the_time_of_one_attempt_and_no_more() -> None:
    desk, stalled = Desk(Box(alert(1), alert(2))), []

    def tell(_: Alert) -> Delivery:
        stalled.append(desk.dispatcher.stalled(desk.clock.advance(TELL_S)))
        stalled.append(desk.dispatcher.stalled(desk.clock.advance(1)))
        return Delivery(Outcome.SENT)

    desk.notifier.tell = tell  # type: ignore[method-assign, assignment]
    desk.dispatcher.turn()
    assert stalled == [False, True, False, True]
    assert not desk.dispatcher.stalled(desk.clock.advance(LOOK_S))


def test_a_frozen_channel_is_noticed_early_enough_to_be_replaced_within_70_seconds() -> None:
    """systemd waits from the last sign of life on, and then for a moment before it starts again."""
    unit = (Path(__file__).parents[2] / "systemd" / "noonpot.service").read_text()
    waits = dict(re.findall(r"^(WatchdogSec|RestartSec)=(\d+)$", unit, re.MULTILINE))
    assert max(TELL_S, LOOK_S) + float(waits["WatchdogSec"]) + float(waits["RestartSec"]) <= 70.0
    assert float(waits["WatchdogSec"]) >= 2 * BEAT_S


def test_the_loop_tells_when_kicked_and_ends_when_told_to_stop() -> None:
    box, notifier, told = Box(), RecordingNotifier(), threading.Event()
    tell = notifier.tell

    def tell_and_say(alert: Alert) -> Delivery:
        told.set()
        return tell(alert)

    notifier.tell = tell_and_say  # type: ignore[method-assign]
    stop = threading.Event()
    dispatcher = Dispatcher(notifier, box, SystemClock(), Health())
    loop = threading.Thread(target=dispatcher.run, args=(stop,))
    loop.start()
    box.alerts.append(alert(1, minutes=60 * 24 * 365 * 100))
    dispatcher.kick()
    assert told.wait(5)
    stop.set()
    dispatcher.kick()
    loop.join(5)
    assert not loop.is_alive()
    assert box.settled == {"alert-1": "sent"}
