"""Push beside MQTT, from a real store: what happens to the one does not concern the other."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from broker import Broker, Phone, until
from noonpot.clock import SystemClock
from noonpot.core.alert import Alert, Priority
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.gathering import Gathering, Pace
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Batch, Health
from noonpot.store.sqlite import Store
from receiver import BlackHole, Receiver, nowhere

LIMIT_S = 5.0  # in the daemon 30
CRITICAL_S = 60.0  # the promise: a critical alert is told by the other channel within this
CLOCK = SystemClock()


class House:
    """A store, and both channels of one station, running."""

    def __init__(self, store: Store, port: int, *addresses: str) -> None:
        self.store = store
        self.health = Health()
        self._stop = threading.Event()
        mqtt = MqttNotifier(
            MqttOptions("127.0.0.1", port, "garden"), CLOCK, self.health, version="9.9"
        )
        push = PushNotifier(PushOptions("garden", addresses, LIMIT_S), self.health)
        self._notifiers = (mqtt, push)
        pace = Gathering(Pace(gather_s=0.2, spacing_s=600))
        self.by_mqtt = Dispatcher(mqtt, store, CLOCK, self.health)
        self.by_push = Dispatcher(push, store, CLOCK, self.health, pace)
        desks = (self.by_mqtt, self.by_push)
        self._threads = [threading.Thread(target=desk.run, args=(self._stop,)) for desk in desks]
        for thread in self._threads:
            thread.start()

    def tell(self, *numbers: int, priority: Priority = Priority.URGENT) -> None:
        now = CLOCK.moment()
        later = now.at + timedelta(hours=1)
        alerts = [
            Alert(f"{n:04}-alert", now.at, later, "box", "done", "normal", priority, f"text {n}")
            for n in numbers
        ]
        self.store.write(now, Batch(alerts=alerts))
        self.by_mqtt.kick()
        self.by_push.kick()

    def waits(self, channel: str) -> int:
        return len(self.store.unsent(channel, 100))

    def close(self) -> None:
        self._stop.set()
        self.by_mqtt.kick()
        self.by_push.kick()
        for notifier in self._notifiers:
            notifier.close()
        for thread in self._threads:
            thread.join(LIMIT_S)
            assert not thread.is_alive()


@contextmanager
def house(folder: Path, port: int, *addresses: str) -> Iterator[House]:
    with Store(folder / "noonpot.db", CLOCK) as store:
        made = House(store, port, *addresses)
        try:
            yield made
        finally:
            made.close()


def settled(made: House, channel: str) -> Callable[[], bool]:
    return lambda: made.waits(channel) == 0


def test_each_of_several_alerts_is_settled_by_one_message(broker: Broker, tmp_path: Path) -> None:
    with Receiver() as service, house(tmp_path, broker.port, service.address()) as made:
        made.tell(1, 2, 3, priority=Priority.HIGH)
        service.wait(lambda: bool(service.messages), "the message comes")
        until(settled(made, "push"), "all three are settled")
        assert service.messages == ["3 things:\n- text 1\n- text 2\n- text 3 [0001]"]
        assert made.health.counts["push-sent"] == 3


def test_a_service_that_confirms_nothing_gets_a_critical_alert_twice_at_the_most(
    broker: Broker, tmp_path: Path
) -> None:
    with (
        Phone(broker.port, "noonpot/+/alert") as phone,
        Receiver(slow_s=60.0) as service,
        house(tmp_path, broker.port, service.address()) as made,
    ):
        begun_s = CLOCK.moment().mono_s
        made.tell(1)
        phone.wait_for("alert", text="text 1")
        assert CLOCK.moment().mono_s - begun_s < CRITICAL_S
        until(lambda: made.by_push.trouble != "", "the trouble is known")
        until(settled(made, "push"), "it is given up")
        assert len(service.messages) <= 2
        assert set(service.messages) <= {"text 1 [0001]"}
        assert made.health.counts["push-unconfirmed"] == 1
        assert made.by_push.trouble == f"service 1 (json): no outcome within {LIMIT_S:.0f} s"


def test_a_black_hole_holds_up_nothing_on_the_other_channel(broker: Broker, tmp_path: Path) -> None:
    with (
        Phone(broker.port, "noonpot/+/alert") as phone,
        BlackHole() as hole,
        house(tmp_path, broker.port, hole.address()) as made,
    ):
        for number in range(1, 6):
            made.tell(number)
            phone.wait_for("alert", text=f"text {number}")
        assert made.waits("push") == 5
        assert made.by_mqtt.failure == ""


def test_what_a_service_refused_comes_once_when_it_is_well_again(
    broker: Broker, tmp_path: Path
) -> None:
    with Receiver(status=500) as service, house(tmp_path, broker.port, service.address()) as made:
        made.tell(1)
        until(lambda: "answers 500" in made.by_push.trouble, "the trouble is known")
        service.status = 200
        until(settled(made, "push"), "it is told")
        assert made.by_push.trouble == ""
        assert made.health.counts["push-sent"] == 1
        refused = len(service.messages) - 1
        assert service.messages == ["text 1 [0001]"] * (refused + 1)


def test_when_both_are_away_both_say_so_and_both_tell_when_they_are_back(tmp_path: Path) -> None:
    broker = Broker(tmp_path / "broker")
    with house(tmp_path, broker.port, nowhere()) as made:
        made.tell(1)
        until(lambda: "be reached" in made.by_push.trouble, "push is away")
        until(lambda: made.by_mqtt.failure != "", "the broker is away")
        assert (made.waits("mqtt"), made.waits("push")) == (1, 1)
        with broker, Phone(broker.port, "noonpot/+/alert") as phone:
            made.by_mqtt.kick()
            phone.wait_for("alert", text="text 1")
