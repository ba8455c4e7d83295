"""Telling on a terminal."""

import io
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from noonpot.core.alert import Alert, Priority
from noonpot.notify.console import ConsoleNotifier
from noonpot.ports import Delivery, Outcome

AT = datetime(2026, 6, 3, 11, 30, tzinfo=UTC)
ALERT = Alert(
    id="1",
    at=AT,
    expires_at=AT + timedelta(minutes=30),
    cooker="box",
    alarm="done",
    state="unacknowledged",
    priority=Priority.HIGH,
    text="box: bread is done.\nTake it out.",
)


def test_an_alert_is_one_line() -> None:
    stream = io.StringIO()
    assert ConsoleNotifier(stream).tell(ALERT) == Delivery(Outcome.SENT)
    assert stream.getvalue() == "2026-06-03T11:30:00Z high: box: bread is done. Take it out.\n"


def test_states_are_not_printed() -> None:
    stream = io.StringIO()
    notifier = ConsoleNotifier(stream)
    notifier.show("box/now", {"pot_c": 98.5})
    notifier.close()
    assert stream.getvalue() == ""


def test_a_closed_output_refuses() -> None:
    stream = io.StringIO()
    stream.close()
    assert ConsoleNotifier(stream).tell(ALERT).outcome is Outcome.REFUSED


def test_a_full_disk_behind_the_output_is_tried_again() -> None:
    with suppress(OSError), Path("/dev/full").open("w") as stream:  # closing it fails as well
        told = ConsoleNotifier(stream).tell(ALERT)
    assert told.outcome is Outcome.RETRY
    assert "No space left" in told.reason
