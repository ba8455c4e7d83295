"""Two brokers with a bridge: one in the house, beside the station, and one for many houses."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt import publish

from broker import Broker, Phone, until
from endurance.extent import FULL
from notify.test_delivery import names, post
from notify.test_mqtt import PUBLISHER
from stations import station, wait_open

CONNECTION = "$SYS/broker/connection/garden/state"


def bridge(port: int) -> tuple[str, ...]:
    """The lines in the configuration of the broker in the house, as README.md has them."""
    return (
        "allow_anonymous true",
        "connection centre",
        f"address 127.0.0.1:{port}",
        "remote_clientid garden",
        "bridge_protocol_version mqttv50",
        "cleansession false",
        "restart_timeout 1",
        *(
            f"topic noonpot/garden/{topic} out 1"
            for topic in (
                *("status", "health", "alert"),
                *("+/now", "+/forecast", "+/alarm/+", "+/did"),
            )
        ),
        "topic noonpot/garden/+/do/+ in 1",
    )


@pytest.fixture
def centre(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "centre") as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, centre: Broker) -> Iterator[Broker]:
    with Broker(tmp_path / "house", *bridge(centre.port)) as running:
        yield running


def joined(far: Phone) -> None:
    """Wait until the bridge stands."""
    far.wait(lambda: bool(far.messages("garden/state")), "the bridge")
    far.wait(lambda: far.messages("garden/state")[-1].body == b"1", "the bridge stands")


def test_states_cross_and_stay_and_commands_come_back(centre: Broker, house: Broker) -> None:
    with (
        Phone(centre.port, "noonpot/#", CONNECTION, name="far") as far,
        Phone(house.port, "noonpot/+/+/do/+", name="station") as near,
        station(house.port) as notifier,
    ):
        joined(far)
        wait_open(notifier)
        notifier.show("box/now", {"pot_c": 98.5})
        notifier.show("box/alarm/done", {"state": "normal"})
        far.wait_for("box/now", pot_c=98.5)
        far.wait_for("box/alarm/done", state="normal")
        far.wait_for("garden/status", status="online")
        tell(house.port, "noonpot/garden/box/do/lid", id="in the house")
        tell(centre.port, "noonpot/garden/box/do/mark", id="far away")
        near.wait(lambda: len(near.messages()) == 2, "both commands")
        notifier.show("box/alarm/done", {"state": "unacknowledged"})
        far.wait_for("box/alarm/done", state="unacknowledged")
        typed = [m.json["id"] for m in far.messages() if "/do/" in m.topic]
        assert typed == ["far away"], "what is typed in the house stays there"
    with Phone(centre.port, "noonpot/#", name="latecomer") as latecomer:
        latecomer.wait_for("box/now", pot_c=98.5)
        latecomer.wait_for("box/alarm/done", state="unacknowledged")
        latecomer.wait_for("garden/status", status="offline", last_will=False)
        assert all(message.retained for message in latecomer.messages())
        assert len(latecomer.messages()) == 3


def test_alerts_cross_once_though_both_brokers_and_the_bridge_are_killed(
    centre: Broker, house: Broker, tmp_path: Path
) -> None:
    with (
        Phone(centre.port, "noonpot/+/alert", CONNECTION, name="far") as far,
        post(house.port, tmp_path) as sender,
    ):
        joined(far)
        sender.send(1, 5)
        told(far, 5)
        centre.save()
        centre.kill()
        sender.send(6, 10)
        until(sender.is_settled, "the broker in the house has them")
        house.save()
        house.kill()
        centre.start()
        sender.send(11, 15)
        house.start()
        told(far, 15)
        sender.send(16, 20)
        told(far, 20)
        alerts = far.messages("/alert")
        assert list(dict.fromkeys(m.json["id"] for m in alerts)) == names(20)
        assert all(m.qos == 1 and m.expires_in_s is not None for m in alerts)


def test_what_waits_for_the_bridge_outlives_a_crash(centre: Broker, house: Broker) -> None:
    with Phone(centre.port, "noonpot/+/alert", CONNECTION, name="far") as far:
        joined(far)
        centre.save()
        centre.kill()
        tell(house.port, "noonpot/garden/alert", id="waits")
        house.save()
        house.kill()
        centre.start()
        house.start()
        far.wait_for("garden/alert", id="waits")


@pytest.mark.skipif(not FULL, reason="the bridge takes 6 s: only with NOONPOT_ENDURANCE=full")
def test_a_broker_that_lost_its_memory_gets_the_states_anew(centre: Broker, house: Broker) -> None:
    with (
        Phone(centre.port, CONNECTION, name="far") as far,
        station(house.port) as notifier,
    ):
        joined(far)
        wait_open(notifier)
        notifier.show("box/alarm/done", {"state": "unacknowledged"})
        centre.kill()
        centre.fall_back()
        centre.start()
        with Phone(centre.port, "noonpot/#", name="latecomer") as latecomer:
            latecomer.wait_for("garden/status", status="online")
            latecomer.wait_for("box/alarm/done", state="unacknowledged")


def test_a_station_that_is_killed_is_told_far_away(centre: Broker, house: Broker) -> None:
    with Phone(centre.port, "noonpot/+/status", CONNECTION, name="far") as far:
        with killed(house.port):
            joined(far)
            far.wait_for("garden/status", status="online")
        far.wait_for("garden/status", status="offline", last_will=True)


def test_a_house_without_power_is_told_by_the_bridge(centre: Broker, house: Broker) -> None:
    """The broker that holds the last will of the station is gone with it."""
    with Phone(centre.port, "noonpot/+/status", CONNECTION, name="far") as far:
        with killed(house.port):
            joined(far)
            far.wait_for("garden/status", status="online")
            house.kill()
        far.wait(lambda: far.messages("garden/state")[-1].body == b"0", "the house is gone")
        assert far.messages("garden/status")[-1].json["status"] == "online", "nobody says otherwise"


@contextmanager
def killed(port: int) -> Iterator[None]:
    """A station in a process of its own, killed in the end."""
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen([sys.executable, "-c", PUBLISHER, str(port)], env=environment) as it:
        yield
        it.kill()


def told(far: Phone, count: int) -> None:
    """Wait until so many different alerts are there."""
    far.wait(
        lambda: len({m.json["id"] for m in far.messages("/alert")}) >= count, f"{count} alerts"
    )


def tell(port: int, topic: str, **body: str) -> None:
    """Publish a message once, as a person's phone does."""
    publish.single(topic, json.dumps(body), qos=1, hostname="127.0.0.1", port=port)
