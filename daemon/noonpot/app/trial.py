"""``noonpot check --test-alert``: one marked alert by every channel, and what came of it."""

import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

from noonpot import __version__
from noonpot.app.checkup import BROKER_S, Finding, checking
from noonpot.app.machine import system_clock
from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Alert, Priority
from noonpot.core.stationfacts import OWN
from noonpot.core.wording import Wording
from noonpot.errors import NotifierError
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Clock, Health, Notifier, Outcome
from noonpot.settings.reading import load
from noonpot.settings.values import MqttAccess, PushAccess, Settings

EXPIRES = timedelta(minutes=10)
CONFIRMED = {
    "mqtt": "the broker has it",
    "push": "taken",
}


def trials(file: Path) -> Iterator[Finding]:
    """A test alert by each channel in turn. Raises ConfigError with all mistakes of the file."""
    settings, clock = load(file), system_clock()
    alert = _alert(settings, clock)
    if settings.mqtt is not None:
        yield _by_mqtt(settings.station.name, settings.mqtt, clock, alert)
    if settings.push is not None:
        yield _by_push(settings.station.name, settings.push, clock, alert)
    if settings.mqtt is None and settings.push is None:
        words = "there is neither [mqtt] nor [push]: no alarm leaves this computer"
        yield Finding("test alert", good=False, words=words)


def _alert(settings: Settings, clock: Clock) -> Alert:
    now = clock.moment().at
    time = Wording(timezone=settings.timezone).clock(now)
    return Alert(
        id=str(uuid4()),
        at=now,
        expires_at=now + EXPIRES,
        cooker=OWN,
        alarm="test",
        state=AlarmState.NORMAL,
        priority=Priority.HIGH,
        text=f"TEST of {settings.station.name} at {time}: alarms reach you. Nothing to do.",
    )


def _by_mqtt(station: str, access: MqttAccess, clock: Clock, alert: Alert) -> Finding:
    opened = threading.Event()
    notifier = MqttNotifier(
        checking(station, access), clock, Health(), version=__version__, on_open=opened.set
    )
    clock.wait(opened, BROKER_S)
    return _tried(notifier, clock, alert)


def _by_push(station: str, access: PushAccess, clock: Clock, alert: Alert) -> Finding:
    try:
        notifier = PushNotifier(PushOptions(station, access.addresses), Health())
    except NotifierError as error:
        return Finding("test alert by push", good=False, words=str(error))
    return _tried(notifier, clock, alert)


def _tried(notifier: Notifier, clock: Clock, alert: Alert) -> Finding:
    begun_s = clock.moment().mono_s
    delivery = notifier.tell(alert)
    notifier.close()
    took_s = clock.moment().mono_s - begun_s
    what = f"test alert by {notifier.channel}"
    if delivery.outcome is not Outcome.SENT:
        return Finding(what, good=False, words=delivery.reason)
    missed = f", but not by {delivery.reason}" if delivery.reason else ""
    words = f"{CONFIRMED[notifier.channel]} after {took_s:.1f} s{missed}; now look at your phone"
    return Finding(what, good=not missed, words=words)
