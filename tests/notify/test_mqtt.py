"""Telling over MQTT, through a real broker to an independent client."""

import os
import subprocess
import sys
import threading
from dataclasses import replace

from broker import DEADLINE_S, Broker, Phone
from noonpot.notify.mqtt import MqttNotifier
from noonpot.ports import Delivery, Health, Outcome
from stations import ALERT, station, wait_open, wait_problem


def test_a_station_is_online_while_it_lives_and_says_goodbye_when_it_ends(broker: Broker) -> None:
    with Phone(broker.port, "noonpot/+/status") as phone:
        with station(broker.port):
            phone.wait_for("status", status="online", last_will=False, version="9.9")
        phone.wait_for("status", status="offline", last_will=False)
    with Phone(broker.port, "noonpot/+/status", name="latecomer") as latecomer:
        latecomer.wait_for("status", status="offline")
        assert [m.retained for m in latecomer.messages()] == [True]
        assert [m.json["status"] for m in phone.messages()] == ["online", "offline"]


PUBLISHER = """
import sys, threading
from noonpot.clock import SystemClock
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.notify.mqtt import MqttNotifier
from noonpot.ports import Health
options = MqttOptions("127.0.0.1", int(sys.argv[1]), "garden")
notifier = MqttNotifier(options, SystemClock(), Health(), version="9.9")
threading.Event().wait()
"""


def test_the_broker_tells_the_last_will_of_a_station_killed_without_warning(broker: Broker) -> None:
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with (
        Phone(broker.port, "noonpot/+/status") as phone,
        subprocess.Popen(
            [sys.executable, "-c", PUBLISHER, str(broker.port)], env=environment
        ) as it,
    ):
        phone.wait_for("status", status="online")
        it.kill()
        phone.wait_for("status", status="offline", last_will=True)


def test_states_are_there_again_after_the_broker_lost_its_memory(broker: Broker) -> None:
    with station(broker.port) as notifier:
        notifier.show("box/now", {"pot_c": 20.0})
        notifier.show("box/now", {"pot_c": 98.5})
        notifier.show("box/alarm/done", {"state": "normal"})
        wait_open(notifier)
        broker.kill()
        broker.fall_back()
        wait_problem(notifier, "broker")
        broker.start()
        with Phone(broker.port, "noonpot/garden/#") as phone:
            phone.wait_for("garden/status", status="online")
            phone.wait_for("box/now", pot_c=98.5)
            phone.wait_for("box/alarm/done", state="normal")


def test_an_alert_arrives_whole_once_and_with_its_time_to_live(broker: Broker) -> None:
    with Phone(broker.port, "noonpot/+/alert") as phone, station(broker.port) as notifier:
        wait_open(notifier)
        assert notifier.tell(ALERT) == Delivery(Outcome.SENT)
        told = phone.wait_for("garden/alert", id=ALERT.id)
        assert told == {
            "id": "0b9f2c6e-5d0e-4a55-8d0a-3a2f6f6c1d11",
            "time": "2026-06-03T11:30:00Z",
            "expires": "2026-06-03T12:00:00Z",
            "station": "garden",
            "cooker": "box",
            "alarm": "done",
            "state": "unacknowledged",
            "priority": "high",
            "text": "box: bread is done, core 94 °C. Take it out with gloves.",
        }
        (message,) = phone.messages()
        assert (message.qos, message.retained, message.expires_in_s) == (1, False, 1800)


def test_a_broker_that_speaks_only_the_older_protocol_serves_as_well(broker: Broker) -> None:
    with (
        Phone(broker.port, "noonpot/#") as phone,
        station(broker.port, protocol="3.1.1") as notifier,
    ):
        phone.wait_for("status", status="online")
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        phone.wait_for("alert", id=ALERT.id)
    with Phone(broker.port, "noonpot/+/status", name="latecomer") as latecomer:
        latecomer.wait_for("status", status="offline", last_will=False)


def test_what_topics_or_json_cannot_carry_is_counted_and_harms_nothing(broker: Broker) -> None:
    health = Health()
    with Phone(broker.port, "noonpot/#") as phone, station(broker.port, health=health) as notifier:
        wait_open(notifier)
        notifier.show("box/#", {"pot_c": 1.0})
        notifier.show("box//now", {"pot_c": 1.0})
        notifier.show("box/now", {"pot_c": float("nan")})
        assert health.counts["mqtt-unfit-states"] == 3
        assert notifier.tell(replace(ALERT, text="\ud800")).outcome is Outcome.REFUSED
        notifier.show("box/now", {"pot_c": 98.5})
        phone.wait_for("box/now", pot_c=98.5)
        assert {m.topic for m in phone.messages()} == {
            "noonpot/garden/status",
            "noonpot/garden/box/now",
        }
        assert all(m.json == {"pot_c": 98.5} for m in phone.messages("now"))


def test_two_who_tell_at_once_do_not_disturb_each_other(broker: Broker) -> None:
    def tell(notifier: MqttNotifier, name: str) -> None:
        alerts = [replace(ALERT, id=f"{name}-{number}") for number in range(20)]
        answers.extend(notifier.tell(alert).outcome for alert in alerts)

    answers: list[Outcome] = []
    with Phone(broker.port, "noonpot/+/alert") as phone, station(broker.port) as notifier:
        wait_open(notifier)
        tellers = [threading.Thread(target=tell, args=(notifier, name)) for name in ("a", "b")]
        for teller in tellers:
            teller.start()
        for teller in tellers:
            teller.join(DEADLINE_S)
        assert answers == [Outcome.SENT] * 40
        phone.wait(lambda: len(phone.messages()) == 40, "forty alerts")
        assert len({message.json["id"] for message in phone.messages()}) == 40
