"""Commands on their way through a real broker, and who it lets through."""

import json
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt import client as mqtt
from paho.mqtt import publish
from paho.mqtt.enums import MQTTProtocolVersion

from broker import Broker, Phone, program, until
from fakes import FakeClock
from noonpot.core.alert import Answer
from noonpot.core.cook import Event
from noonpot.core.moment import iso
from noonpot.core.orders import Known
from noonpot.notify.commands import Commands
from noonpot.ports import Health, Outcome
from stations import ALERT, STATION, station, wait_open

TOKEN = "secret-of-the-garden"  # noqa: S105  of a garden that there is not
KNOWN = Known(cookers=["box"], alarms=["done"], foods=["bread"])
PAGE = Path(__file__).parents[2] / "docs" / "messages.md"
USERS = ("noonpot", "phone", "display")


@dataclass
class Desk:
    """What a station heard, and what it refused."""

    taken: list[Event] = field(default_factory=list)
    health: Health = field(default_factory=Health)
    failing: bool = False

    def commands(self) -> Commands:
        return Commands(STATION, TOKEN, KNOWN, FakeClock(), self.health, self._take)

    def _take(self, event: Event, _name: str) -> None:
        if self.failing:
            raise RuntimeError("a fault nobody thought of")
        self.taken.append(event)

    def wait(self, counter: str, times: int = 1) -> None:
        until(lambda: self.health.counts.get(counter) == times, f"{counter} is {times}")


@pytest.fixture
def desk() -> Desk:
    return Desk()


def command(number: int, **more: object) -> bytes:
    common = {
        "id": f"command-{number}",
        "time": iso(FakeClock().moment().at),
        "token": TOKEN,
        "alarm": "done",
    }
    return json.dumps(common | more).encode()


def say(broker: Broker, body: bytes, verb: str = "acknowledge", **how: Any) -> None:
    """Publish a command as any client of the broker may; returns when the broker has it."""
    publish.single(
        f"noonpot/{STATION}/box/do/{verb}",
        body,
        qos=1,
        hostname="127.0.0.1",
        port=broker.port,
        protocol=MQTTProtocolVersion.MQTTv311,
        **how,
    )


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_command_is_heard_and_a_refused_one_answered(
    broker: Broker, desk: Desk, protocol: str
) -> None:
    with (
        Phone(broker.port, "noonpot/+/+/did") as phone,
        station(broker.port, protocol=protocol, commands=desk.commands()) as notifier,
    ):
        wait_open(notifier)
        say(broker, command(1))
        desk.wait("do-taken")
        assert desk.taken[0].detail == {"alarm": "done"}
        say(broker, command(2, alarm="dine"))
        told = phone.wait_for("garden/box/did", id="command-2", done=False)
        assert "did you mean done?" in told["text"]
        notifier.answer(Answer("command-1", "box", "acknowledge", done=True, text="noted"))
        phone.wait_for("garden/box/did", id="command-1", done=True, text="noted")
        assert not any(message.retained for message in phone.messages())


def test_a_retained_command_is_refused_at_every_connection(broker: Broker, desk: Desk) -> None:
    say(broker, command(1), retain=True)
    for times in (1, 2):
        with station(broker.port, commands=desk.commands()):
            desk.wait("do-retained", times)
    assert desk.taken == []


def test_a_command_stored_for_later_is_refused_even_the_first_time(
    broker: Broker, desk: Desk
) -> None:
    with station(broker.port, commands=desk.commands()) as notifier:
        wait_open(notifier)
        say(broker, command(0))
        desk.wait("do-taken")
        say(broker, command(1), retain=True)
        desk.wait("do-retained")
    assert len(desk.taken) == 1


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_huge_message_neither_passes_nor_ends_the_connection(
    broker: Broker, desk: Desk, protocol: str
) -> None:
    with station(broker.port, protocol=protocol, commands=desk.commands()) as notifier:
        wait_open(notifier)
        say(broker, b"x" * 1_000_000)
        say(broker, command(1))
        desk.wait("do-taken")
        # With MQTT 5 the broker was asked to keep it away, and it never came.
        assert desk.health.counts.get("do-oversized", 0) == (protocol == "3.1.1")
        assert "mqtt-breaks" not in desk.health.counts


def test_what_was_said_while_the_station_was_away_is_not_done_when_it_comes_back(
    broker: Broker, desk: Desk
) -> None:
    with station(broker.port, commands=desk.commands()) as notifier:
        wait_open(notifier)
        say(broker, command(1))
        desk.wait("do-taken")
    say(broker, command(2, alarm="dine"))
    with station(broker.port, commands=desk.commands()) as notifier:
        wait_open(notifier)
        say(broker, command(3))
        desk.wait("do-taken", 2)
    assert desk.health.counts == {"do-taken": 2}


def test_commands_are_heard_again_after_the_broker_died(broker: Broker, desk: Desk) -> None:
    with station(broker.port, commands=desk.commands()) as notifier:
        wait_open(notifier)
        broker.kill()
        until(lambda: notifier.problem is not None, "the loss is noticed")
        broker.start()
        wait_open(notifier)
        say(broker, command(1))
        desk.wait("do-taken")


def test_a_failing_desk_neither_ends_the_network_thread_nor_stays_unseen(
    broker: Broker, desk: Desk
) -> None:
    health = Health()
    with station(broker.port, health=health, commands=desk.commands()) as notifier:
        wait_open(notifier)
        desk.failing = True
        say(broker, command(1))
        until(lambda: health.counts.get("mqtt-callback-errors") == 1, "the error is counted")
        desk.failing = False
        say(broker, command(1))
        desk.wait("do-taken")
        assert notifier.tell(ALERT).outcome is Outcome.SENT


def test_a_station_without_a_token_hears_nothing(broker: Broker) -> None:
    health = Health()
    with (
        Phone(broker.port, "noonpot/+/+/did") as phone,
        station(broker.port, health=health) as notifier,
    ):
        wait_open(notifier)
        say(broker, command(1))
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        assert health.counts == {}
        assert phone.messages() == []


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Broker]:
    """A broker with the rights that docs/messages.md advises; everybody's password is the name."""
    block = PAGE.read_text().split("```\nuser noonpot\n")[1].split("```")[0]
    rights, passwords = tmp_path / "acl", tmp_path / "passwords"
    rights.write_text(f"user noonpot\n{block}")
    passwords.touch()
    for user in USERS:
        login = ("-b", str(passwords), user, user)
        subprocess.run([program("mosquitto_passwd"), *login], check=True, capture_output=True)
    access = ("allow_anonymous false", f"password_file {passwords}", f"acl_file {rights}")
    with Broker(tmp_path / "broker", *access) as broker:
        yield broker


def phone_of(broker: Broker, user: str, topic: str = "noonpot/#") -> Phone:
    def prepare(client: mqtt.Client) -> None:
        client.username_pw_set(user, user)

    return Phone(broker.port, topic, name=user, prepare=prepare)


def test_with_the_advised_rights_only_the_phone_commands_and_nobody_reads_the_token(
    guarded: Broker, desk: Desk
) -> None:
    login: Any = {"username": "noonpot", "password": "noonpot"}
    with (
        phone_of(guarded, "phone", "noonpot/+/+/did") as phone,
        phone_of(guarded, "display") as display,
        station(guarded.port, commands=desk.commands(), **login) as notifier,
    ):
        wait_open(notifier)
        say(guarded, command(1), auth={"username": "display", "password": "display"})
        say(guarded, command(2, alarm="dine"), auth={"username": "phone", "password": "phone"})
        phone.wait_for("did", id="command-2", done=False)
        display.wait_for("did", id="command-2")
        assert desk.taken == []
        assert desk.health.counts == {"do-malformed": 1}
        say(guarded, command(3), auth={"username": "phone", "password": "phone"})
        desk.wait("do-taken")
        notifier.show("box/now", {"pot_c": 98.5})
        notifier.show("box/alarm/done", {"state": "normal"})
        display.wait_for("box/now", pot_c=98.5)
        display.wait_for("alarm/done", state="normal")
        assert not any("/do/" in message.topic for message in display.messages())
        assert TOKEN.encode() not in b"".join(message.body for message in display.messages())
