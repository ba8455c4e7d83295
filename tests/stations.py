"""Stations on their way to a test broker, and an alert for them to tell."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

from broker import until
from fakes import FakeClock
from noonpot.core.alert import Alert, Priority
from noonpot.notify.commands import Commands
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.ports import Health

STATION = "garden"
AT = datetime(2026, 6, 3, 11, 30, tzinfo=UTC)
ALERT = Alert(
    id="0b9f2c6e-5d0e-4a55-8d0a-3a2f6f6c1d11",
    at=AT,
    expires_at=AT + timedelta(minutes=30),
    cooker="box",
    alarm="done",
    state="unacknowledged",
    priority=Priority.HIGH,
    text="box: bread is done, core 94 °C. Take it out with gloves.",
)


@contextmanager
def station(
    port: int,
    *,
    health: Health | None = None,
    on_open: Callable[[], None] = lambda: None,
    commands: Commands | None = None,
    **options: Any,
) -> Iterator[MqttNotifier]:
    """A notifier on its way to the broker at this port."""
    given: dict[str, Any] = {"host": "127.0.0.1", "port": port, "station": STATION} | options
    reach = MqttOptions(**given)
    notifier = MqttNotifier(
        reach,
        FakeClock(AT),
        health or Health(),
        version="9.9",
        on_open=on_open,
        commands=commands,
    )
    try:
        yield notifier
    finally:
        notifier.close()


def wait_open(notifier: MqttNotifier) -> None:
    """Wait until the broker has let the station in."""
    until(lambda: notifier.problem is None, "the broker lets the station in")


def wait_problem(notifier: MqttNotifier, words: str) -> None:
    """Wait until the station names a problem with these words."""

    def is_named() -> bool:
        problem = notifier.problem
        return problem is not None and words in problem.text

    until(is_named, f"a problem with {words!r}")


def threads(name: str) -> list[threading.Thread]:
    """The network threads of the station of this name."""
    return [t for t in threading.enumerate() if t.name.endswith(f"noonpot-{name}")]
