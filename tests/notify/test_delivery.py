"""From the store through a real broker, stopped and killed meanwhile, to a phone."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from broker import Broker, Phone, until
from noonpot.clock import SystemClock
from noonpot.core.alert import Alert, Priority
from noonpot.engine.dispatcher import Dispatcher
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.ports import Batch, Health
from noonpot.store.sqlite import Store


class Post:
    """The whole way from the store to the broker, running."""

    def __init__(self, store: Store, clock: SystemClock, port: int) -> None:
        self.store = store
        self.clock = clock
        self.health = Health()
        self.stop = threading.Event()
        self.made = threading.Event()
        self.notifier = MqttNotifier(
            MqttOptions("127.0.0.1", port, "garden"),
            clock,
            self.health,
            version="9.9",
            on_open=self._opened,
        )
        self.dispatcher = Dispatcher(self.notifier, store, clock, self.health)
        self.made.set()
        self.loop = threading.Thread(target=self.dispatcher.run, args=(self.stop,))

    def _opened(self) -> None:
        if self.made.is_set():
            self.dispatcher.kick()

    def send(self, first: int, last: int) -> None:
        now = self.clock.moment()
        alerts = [
            Alert(
                id=name(number),
                at=now.at,
                expires_at=now.at + timedelta(hours=1),
                cooker="box",
                alarm="turn",
                state="unacknowledged",
                priority=Priority.MEDIUM,
                text=f"text {number}",
            )
            for number in range(first, last + 1)
        ]
        self.store.write(now, Batch(alerts=alerts))
        self.dispatcher.kick()

    def is_settled(self) -> bool:
        return not self.store.unsent("mqtt", 1)


@contextmanager
def post(port: int, folder: Path) -> Iterator[Post]:
    clock = SystemClock()
    with Store(folder / "noonpot.db", clock) as store:
        running = Post(store, clock, port)
        running.loop.start()
        try:
            yield running
        finally:
            running.stop.set()
            running.dispatcher.kick()
            running.loop.join(10)
            running.notifier.close()
            assert not running.loop.is_alive()


def name(number: int) -> str:
    return f"alert-{number:02}"


def names(last: int) -> list[str]:
    return [name(number) for number in range(1, last + 1)]


def first_heard(phone: Phone) -> list[str]:
    """The ids of all alerts in the order in which they first came: what a careful reader keeps."""
    return list(dict.fromkeys(message.json["id"] for message in phone.messages()))


def wait_for(phone: Phone, count: int) -> None:
    phone.wait(lambda: len(first_heard(phone)) >= count, f"{count} different alerts")


def test_alerts_raised_while_the_broker_was_down_arrive_once_and_in_order(
    broker: Broker, tmp_path: Path
) -> None:
    with Phone(broker.port, "noonpot/+/alert") as phone, post(broker.port, tmp_path) as sender:
        until(lambda: sender.notifier.problem is None, "the broker lets the station in")
        broker.stop()
        until(lambda: sender.notifier.problem is not None, "the station notices")
        sender.send(1, 5)
        broker.start()
        wait_for(phone, 5)
        until(sender.is_settled, "all are settled")
        assert [message.json["id"] for message in phone.messages()] == names(5)
        assert sender.health.counts["mqtt-sent"] == 5


def test_twenty_alerts_survive_three_crashes_of_the_broker(broker: Broker, tmp_path: Path) -> None:
    with Phone(broker.port, "noonpot/+/alert") as phone, post(broker.port, tmp_path) as sender:
        broker.save()
        for first in (1, 6, 11):
            sender.send(first, first + 4)
            wait_for(phone, first)
            broker.kill()
            broker.start()
        sender.send(16, 20)
        wait_for(phone, 20)
        until(sender.is_settled, "all are settled")
        assert first_heard(phone) == names(20)
        assert sender.health.counts["mqtt-sent"] == 20
        assert len(phone.messages()) <= 20 + 5 + 10 + 15  # at each crash all of the last 30 s
