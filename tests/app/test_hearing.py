"""The whole daemon heard from outside: a phone at a real broker, a finger on a mock pin."""

import json
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import count
from pathlib import Path
from typing import Any

import gpiozero
import pytest
from gpiozero.pins.mock import MockFactory
from paho.mqtt import publish

from broker import DEADLINE_S, Broker, Phone, until
from fakes import FakeClock
from noonpot.app.daemon import Daemon, Parts
from noonpot.app.hearing import INBOX, commands
from noonpot.app.machine import system_clock
from noonpot.app.running import made, mqtt_options
from noonpot.clock import FastClock
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import iso
from noonpot.core.readings import Measured
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.panel import Panel, Pins
from noonpot.notify.signals import LONG_PRESS_S, Signals
from noonpot.ports import Found, Health, Notifier
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.reading import load
from noonpot.store.inbox import hand_in
from noonpot.store.sqlite import Store
from simday import SimpleSun, at

RATE = 20.0
TOKEN = "secret-of-the-hill"  # noqa: S105  of a hill that there is not
BUTTON = 22
CONFIG = """
[station]
name = "hill"
latitude = 40
longitude = 0
elevation_m = 1600
data = "data"

[[bus]]
name = "pots"
driver = "made for this test"

[[cooker]]
name = "box"

[[probe]]
name = "box-pot"
role = "pot"
bus = "pots"
address = "pot"
cooker = "box"

[alarm.preheated]
on_delay_s = 0

[mqtt]
host = "127.0.0.1"
port = {port}
command_token_file = "token"
"""


class HotPot:
    """A thermometer in a pot that is hot enough for bread."""

    def scan(self) -> Sequence[Found]:
        return []

    def read(self, _address: str) -> Measured:
        return Measured(125.0)

    def notice(self, event: Event) -> None:
        pass

    def close(self) -> None:
        pass


@dataclass
class Hill:
    """A running daemon, and what reaches it."""

    broker: Broker
    daemon: Daemon
    clock: FastClock
    health: Health
    pins: Any
    inbox: Path

    def do(self, verb: str, cooker: str = "box", **keys: object) -> str:
        """Give a command from the phone; returns its id."""
        number = f"command-{next(NUMBERS)}"
        body = {"id": number, "time": iso(self.clock.moment().at), "token": TOKEN} | keys
        publish.single(
            f"noonpot/hill/{cooker}/do/{verb}",
            json.dumps(body),
            qos=1,
            hostname="127.0.0.1",
            port=self.broker.port,
        )
        return number

    def press(self, seconds: float) -> None:
        """Press the button, for so many seconds of the daemon's clock."""
        pin, begun_s = self.pins.pin(BUTTON), self.clock.moment().mono_s
        pin.drive_low()
        until(lambda: self.clock.moment().mono_s - begun_s >= seconds, "it is pressed long enough")
        pin.drive_high()


NUMBERS = count(1)


@pytest.fixture
def hill(tmp_path: Path) -> Iterator[Hill]:
    """A daemon that lives twenty times as fast as we do. Its ``preheated`` counts as an alarm about
    people's health, and is told again ten seconds after it was acknowledged.
    """
    path, token = tmp_path / "noonpot.toml", tmp_path / "token"
    token.write_text(TOKEN)
    token.chmod(0o600)
    with Broker(tmp_path / "broker") as broker:
        path.write_text(CONFIG.format(port=broker.port))
        settings, clock, health = load(path), FastClock(at("10:00"), RATE), Health()
        safe = replace(settings.policies["preheated"], safety=True, re_alarm_s=10.0)
        settings = replace(settings, policies={**settings.policies, "preheated": safe})
        settings.data.mkdir()
        assert settings.mqtt is not None
        daemons: list[Daemon] = []

        def wake() -> None:
            for daemon in daemons:
                daemon.kick()

        phone = MqttNotifier(
            mqtt_options("hill", settings.mqtt),
            clock,
            health,
            version="9.9",
            commands=commands(settings, clock, health, wake),
        )
        pins = MockFactory()
        button = Signals(
            lambda pressed, released: Panel(Pins(button=BUTTON), pressed, released, pins),
            clock,
            health,
            sun=lambda: daemons[-1].sun() if daemons else None,
            hand_in=lambda event: hand_in(settings.data / INBOX, event),
        )
        with Store(settings.data / "noonpot.db", clock) as store:
            both: list[Notifier] = [phone, button]
            buses = {"pots": HotPot()}
            parts = Parts(clock, store, buses, SimpleSun(), both, health, ServiceNotice({}))
            daemons.append(Daemon(settings, parts))
            thread = threading.Thread(target=daemons[0].run)
            clock.go()
            thread.start()
            until(lambda: phone.problem is None, "the broker lets it in")
            try:
                yield Hill(broker, daemons[0], clock, health, pins, settings.data / INBOX)
            finally:
                daemons[0].stop.set()
                daemons[0].kick()
                thread.join(DEADLINE_S)
                for notifier in both:
                    notifier.close()


def test_from_the_phone_to_the_cook_and_back(hill: Hill) -> None:
    with Phone(hill.broker.port, "noonpot/hill/#") as phone:
        aimed = hill.do("aim", azimuth=140, elevation=55)
        phone.wait_for("box/did", id=aimed, done=True, text="box: aim noted")
        phone.wait(lambda: "cook" in phone.messages("box/now")[-1].json, "the cook is shown")
        loaded = hill.do("load", food="bread", mass_kg=0.6)
        phone.wait_for("box/did", id=loaded, done=True)
        cook = hill.daemon.watches["box"].cook
        assert cook is not None
        assert cook.load is not None
        assert (cook.food, cook.load.mass_kg) == ("bread", 0.6)
        assert cook.aim is not None
        assert cook.aim.azimuth_deg == 140
        assert phone.wait_for("box/did", id=hill.do("unload"))["done"]
        again = phone.wait_for("box/did", id=hill.do("unload"))
        assert not again["done"]
        assert "nothing is in the pot" in again["text"]


def test_no_command_silences_an_alarm_about_peoples_health(hill: Hill) -> None:
    with Phone(hill.broker.port, "noonpot/hill/#") as phone:
        event = Event("box", hill.clock.moment().at, EventKind.START, {"food": "bread"})
        hand_in(hill.inbox, event)
        phone.wait_for("alarm/preheated", state="unacknowledged")
        first = phone.wait_for("alert", alarm="preheated")
        refused = phone.wait_for("box/did", id=hill.do("shelve", alarm="preheated", minutes=60))
        assert not refused["done"]
        assert "cannot be put off" in refused["text"]
        assert phone.messages("alarm/preheated")[-1].json["state"] == "unacknowledged"
        known = phone.wait_for("box/did", id=hill.do("acknowledge", alarm="preheated"))
        assert known["done"]
        phone.wait_for("alarm/preheated", state="acknowledged")
        phone.wait(
            lambda: any(
                m.json["alarm"] == "preheated" and m.json["id"] != first["id"]
                for m in phone.messages("/alert")
            ),
            "it is told again although it was acknowledged",
        )


def test_what_does_not_concern_health_can_be_put_off(hill: Hill) -> None:
    with Phone(hill.broker.port, "noonpot/hill/#") as phone:
        told = phone.wait_for("box/did", id=hill.do("shelve", alarm="turn", minutes=60))
        assert told["done"]
        phone.wait_for("alarm/turn", state="shelved")


def test_the_button_answers_and_turns_like_any_other_word(hill: Hill) -> None:
    with Phone(hill.broker.port, "noonpot/hill/#") as phone:
        assert phone.wait_for("box/did", id=hill.do("aim", azimuth=300, elevation=5))["done"]
        assert phone.wait_for("box/did", id=hill.do("load", food="bread", mass_kg=0.6))["done"]
        phone.wait_for("alarm/turn", state="unacknowledged")
        hill.press(0.4)
        phone.wait_for("alarm/turn", state="acknowledged")
        hill.press(LONG_PRESS_S)
        sun = hill.daemon.sun()
        assert sun is not None

        def turned() -> bool:
            cook = hill.daemon.watches["box"].cook
            aim = None if cook is None else cook.aim
            return aim is not None and abs(aim.azimuth_deg - sun.azimuth_deg) < 2

        until(turned, "the cooker points to the sun")


def test_what_was_said_before_the_clock_was_set_keeps_its_time(hill: Hill) -> None:
    said = hill.clock.moment()
    unset = FakeClock(at("10:00") - timedelta(days=1), said.mono_s)
    unset.boot_id = hill.clock.boot_id
    event = Event("box", unset.moment().at, EventKind.START, {"food": "bread"})
    hand_in(hill.inbox, event, clock=unset)
    watch = hill.daemon.watches["box"]
    hill.daemon.kick()
    until(lambda: watch.cook is not None, "the cook begins")
    assert watch.cook is not None
    assert abs((watch.cook.started_at - said.at).total_seconds()) < 1.0


@pytest.fixture
def default_pins(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The pins that gpiozero finds by itself are mock pins."""
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    yield gpiozero.Device
    gpiozero.Device.pin_factory.close()
    gpiozero.Device.pin_factory = None


def test_the_configuration_names_token_and_pins(tmp_path: Path, default_pins: Any) -> None:
    path, token = tmp_path / "noonpot.toml", tmp_path / "token"
    token.write_text(TOKEN)
    token.chmod(0o600)
    with Broker(tmp_path / "broker") as broker:
        text = CONFIG.format(port=broker.port).replace("made for this test", "ds18b20")
        wired = f"[signals]\nbuzzer = 17\nlamp = 27\nbutton = {BUTTON}\n[page]\nenabled = false\n"
        path.write_text(f"{text}{wired}")
        with made(path), Phone(broker.port, "noonpot/hill/status") as phone:
            phone.wait_for("status", status="online")
            body = {
                "id": "command-0",
                "time": iso(system_clock().moment().at),
                "token": TOKEN,
                "alarm": "turn",
            }
            publish.single(
                "noonpot/hill/station/do/acknowledge", json.dumps(body), 1, port=broker.port
            )
            inbox = tmp_path / "data" / INBOX
            until(lambda: bool(list(inbox.glob("*-phone-command-0.json"))), "the letter is there")
            pins = default_pins.pin_factory
            pins.pin(BUTTON).drive_low()
            pins.pin(BUTTON).drive_high()
            until(lambda: pins.pin(17).state, "the buzzer sounds: nothing waits for an answer")
