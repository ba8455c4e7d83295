"""All channels of a station together: what is said of those that fail, and how soon they end."""

import threading
from datetime import timedelta
from pathlib import Path

from broker import free_port, until
from noonpot.app.messengers import STOP_S, Messengers
from noonpot.clock import SystemClock
from noonpot.core.alert import Alert, Priority
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.notify.push import PushNotifier, PushOptions
from noonpot.ports import Batch, Health
from noonpot.settings.values import PushAccess
from noonpot.store.sqlite import Store
from receiver import BlackHole, nowhere

CLOCK = SystemClock()


class Station:
    """Both channels, one alert to tell, and a store to tell it from."""

    def __init__(self, folder: Path, address: str) -> None:
        self.stop = threading.Event()
        self.health = Health()
        self.store = Store(folder / "noonpot.db", CLOCK)
        options = MqttOptions("127.0.0.1", free_port(), "garden")
        self.mqtt = MqttNotifier(options, CLOCK, self.health, version="9.9")
        self.push = PushNotifier(PushOptions("garden", (address,)), self.health)
        access = PushAccess((address,), Priority.LOW, gather_s=0.0, spacing_s=0.0)
        self.messengers = Messengers(
            [self.mqtt, self.push], access, self.store, CLOCK, self.health, self.stop
        )

    def alert(self) -> Alert:
        now = CLOCK.moment().at
        later = now + timedelta(hours=1)
        return Alert("a-1", now, later, "box", "done", "normal", Priority.HIGH, "text")

    def end_s(self) -> float:
        """End it; returns how long that took [s]."""
        begun_s = CLOCK.moment().mono_s
        self.stop.set()
        self.messengers.join()
        took_s = CLOCK.moment().mono_s - begun_s
        self.mqtt.close()
        self.store.close()
        return took_s


def test_each_channel_that_fails_says_why(tmp_path: Path) -> None:
    station = Station(tmp_path, nowhere())
    station.messengers.start()
    lines = station.messengers.lines()
    assert lines["push"]() == ""  # nobody has asked anything of it yet
    station.store.write(CLOCK.moment(), Batch(alerts=[station.alert()]))
    station.messengers.kick()
    until(lambda: "cannot be reached" in lines["push"](), "push says why")
    until(lambda: "no broker answers" in lines["mqtt"](), "mqtt says why")
    station.end_s()


def test_a_push_that_hangs_holds_up_neither_the_rounds_nor_the_end(tmp_path: Path) -> None:
    with BlackHole() as hole:
        station = Station(tmp_path, hole.address())
        station.messengers.start()
        begun_s = CLOCK.moment().mono_s
        (push,) = [n for n in station.messengers.brisk if n.channel == "push"]
        push.tell(station.alert())
        assert CLOCK.moment().mono_s - begun_s < 1.0
        hole.wait_for_caller()
        assert station.end_s() < STOP_S
