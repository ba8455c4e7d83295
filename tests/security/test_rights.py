"""What the rights for mosquitto that come with Noonpot let each user do, at a real mosquitto."""

import json
import re
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt import publish
from paho.mqtt.enums import MQTTProtocolVersion

from broker import Broker, Phone, until
from fakes import FakeClock
from noonpot.core.alert import Answer
from noonpot.core.cook import Event
from noonpot.core.moment import iso
from noonpot.core.orders import Known
from noonpot.notify.commands import Commands
from noonpot.notify.mqtt import MqttNotifier
from noonpot.ports import Health, Outcome
from security.guarded import RIGHTS, guarded, password, phone
from stations import ALERT, station, wait_open, wait_problem

PAGE = Path(__file__).parents[2] / "docs" / "messages.md"
TOKEN = "geheim-command-token"  # noqa: S105  of a garden that there is not
KNOWN = Known(cookers=["box"], alarms=["done"], foods=["bread"])
STATES = ("health", "box/now", "box/forecast", "box/alarm/done", "station/alarm/link")


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with guarded(tmp_path) as broker:
        yield broker


def let_in(broker: Broker, user: str, **more: Any) -> AbstractContextManager[MqttNotifier]:
    """A station that comes as this user."""
    login = {"username": user, "password": password(user), "station": user}
    return station(broker.port, **(login | more))


def say(broker: Broker, user: str, to: str, body: str, **how: Any) -> None:
    """Publish as a user; with 3.1.1 a broker says nothing of what it does not take."""
    publish.single(
        to,
        body,
        qos=1,
        hostname="127.0.0.1",
        port=broker.port,
        auth={"username": user, "password": password(user)},
        protocol=MQTTProtocolVersion.MQTTv311,
        **how,
    )


def order(number: int) -> str:
    said = {"id": f"command-{number}", "time": iso(FakeClock().moment().at), "token": TOKEN}
    return json.dumps(said | {"alarm": "done"})


def test_a_station_may_do_all_it_must_and_phone_and_bridge_hear_it(broker: Broker) -> None:
    health = Health()
    with phone(broker, "phone") as mine, phone(broker, "bridge") as bridge:
        with let_in(broker, "garden", health=health) as notifier:
            wait_open(notifier)
            for topic in STATES:
                notifier.show(topic, {"shown": topic})
            notifier.answer(Answer("command-1", "box", "load", done=True, text="noted"))
            assert notifier.tell(ALERT).outcome is Outcome.SENT
            for listener in (mine, bridge):
                listener.wait_for("garden/status", status="online")
                listener.wait_for("garden/alert", id=ALERT.id)
                listener.wait_for("garden/box/did", id="command-1")
                for topic in STATES:
                    listener.wait_for(f"garden/{topic}", shown=topic)
        mine.wait_for("garden/status", status="offline", last_will=False)
    assert "mqtt-states-refused" not in health.counts


def test_a_station_that_dies_is_told_by_its_last_will(broker: Broker) -> None:
    with phone(broker, "phone") as mine, let_in(broker, "garden") as notifier:
        wait_open(notifier)
        mine.wait_for("garden/status", status="online")
        notifier._connection._client.abandon()  # noqa: SLF001  as a loss of power does
        mine.wait_for("garden/status", status="offline", last_will=True)


def test_the_phone_commands_and_nobody_reads_what_it_says(broker: Broker) -> None:
    taken: list[Event] = []
    health = Health()
    commands = Commands(
        "garden", TOKEN, KNOWN, FakeClock(), health, lambda event, _: taken.append(event)
    )
    with (
        phone(broker, "phone") as mine,
        phone(broker, "bridge") as bridge,
        phone(broker, "shed") as shed,
        let_in(broker, "garden", commands=commands) as notifier,
    ):
        wait_open(notifier)
        for number, user in enumerate(("bridge", "shed", "garden"), start=1):
            say(broker, user, "noonpot/garden/box/do/acknowledge", order(number))
        say(broker, "phone", "noonpot/garden/box/do/acknowledge", order(4))
        until(lambda: health.counts.get("do-taken") == 1, "the phone's command is taken")
        assert notifier.tell(ALERT).outcome is Outcome.SENT  # whatever came before has arrived
        mine.wait_for("alert", id=ALERT.id)
        bridge.wait_for("alert", id=ALERT.id)
        assert health.counts == {"do-taken": 1}
        assert len(taken) == 1
        heard = [m for each in (mine, bridge, shed) for m in each.messages()]
        assert not any("/do/" in message.topic for message in heard)


def test_a_huge_message_ends_the_line_of_who_sent_it_and_reaches_nobody(broker: Broker) -> None:
    health = Health()
    commands = Commands("garden", TOKEN, KNOWN, FakeClock(), health, lambda *_: None)
    old = {"commands": commands, "health": health, "protocol": "3.1.1"}  # 5 asks for it itself
    with phone(broker, "phone") as loud, let_in(broker, "garden", **old) as notifier:
        wait_open(notifier)
        to = "noonpot/garden/box/do/acknowledge"
        loud._client.publish(to, b"x" * 100_000)  # noqa: SLF001
        say(broker, "phone", to, order(1))
        until(lambda: health.counts.get("do-taken") == 1, "the next command is taken")
        assert health.counts == {"do-taken": 1}
        assert "oversize packet" in (broker.folder / "log").read_text()


@pytest.mark.parametrize("forger", ["phone", "bridge", "shed"])
def test_nobody_else_speaks_for_the_garden(broker: Broker, forger: str) -> None:
    forged = ["alert", "status", "box/did", *STATES]
    with phone(broker, "phone") as mine, let_in(broker, "garden") as notifier:
        wait_open(notifier)
        for topic in forged:
            say(broker, forger, f"noonpot/garden/{topic}", '{"forged": true}', retain=True)
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        mine.wait_for("alert", id=ALERT.id)
        assert not any("forged" in message.json for message in mine.messages())
    with phone(broker, "bridge") as late:  # nor is it kept for who comes later
        late.wait_for("garden/status")
        assert not any("forged" in message.json for message in late.messages())


def test_strangers_are_not_let_in(broker: Broker) -> None:
    for change, words in (
        ({"username": None, "password": None}, "a login without a name"),
        ({"password": password("shed")}, "the login of 'garden'"),
    ):
        with let_in(broker, "garden", **change) as notifier:
            wait_problem(notifier, words)


def test_a_check_gets_through_and_leaves_nothing_behind(broker: Broker) -> None:
    visit = {"station": "garden-check", "alerts_of": "garden"}
    with phone(broker, "phone") as mine:
        health = Health()
        with let_in(broker, "garden", health=health, **visit) as notifier:
            wait_open(notifier)
            assert notifier.tell(ALERT).outcome is Outcome.SENT
        mine.wait_for("garden/alert", id=ALERT.id)
        assert health.counts == {}


def test_where_everybody_may_write_a_check_leaves_no_station_that_there_is_not(
    tmp_path: Path,
) -> None:
    with Broker(tmp_path / "open") as broker, Phone(broker.port, "#") as mine:
        for end in ("goodbye", "lost"):
            with station(broker.port, station="garden-check", alerts_of="garden") as notifier:
                wait_open(notifier)
                if end == "lost":
                    notifier._connection._client.abandon()  # noqa: SLF001
        with station(broker.port) as notifier:
            wait_open(notifier)
            mine.wait_for("garden/status", status="online")
        assert {message.topic for message in mine.messages()} == {"noonpot/garden/status"}


def test_the_rights_name_every_message_that_there_is() -> None:
    told = re.findall(r"^\| \[`noonpot/<station>/([^`]+)`\]", PAGE.read_text(), re.MULTILINE)
    topics = {re.sub(r"<[a-z]+>", "+", topic) for topic in told}
    assert len(topics) == 8
    lines = RIGHTS.read_text().splitlines()
    begin = lines.index("user garden")
    granted = {
        re.sub(r"^topic (?:read|write) noonpot/garden/", "", line)
        for line in lines[begin + 1 : lines.index("", begin)]
        if line.startswith("topic")
    }
    assert granted == topics
