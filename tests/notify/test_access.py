"""Whom a broker lets in, and what a station is told when it is not."""

import subprocess
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from broker import DEADLINE_S, Broker, Phone, free_port, program, until
from certificates import make_certificates
from noonpot.errors import NotifierError
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.options import MqttOptions
from noonpot.ports import Delivery, Health, Outcome
from stations import ALERT, STATION, station, threads, wait_open, wait_problem


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Broker]:
    """A broker that wants TLS and the password of the user ``cook``."""
    made = make_certificates(tmp_path / "certificates")
    passwords = tmp_path / "passwords"
    login = ("-b", "-c", str(passwords), "cook", "sunny side")
    subprocess.run([program("mosquitto_passwd"), *login], check=True, capture_output=True)
    access = (
        f"cafile {made.ca}",
        f"certfile {made.server}",
        f"keyfile {made.server_key}",
        "allow_anonymous false",
        f"password_file {passwords}",
    )
    with Broker(tmp_path / "broker", *access) as broker:
        yield broker


def ca_of(broker: Broker) -> Path:
    return broker.folder.parent / "certificates" / "ca.crt"


def phone_of(broker: Broker, *topics: str) -> Phone:
    """A phone that knows the authority and the password."""

    def prepare(client: mqtt.Client) -> None:
        client.username_pw_set("cook", "sunny side")
        client.tls_set(str(ca_of(broker)))

    return Phone(broker.port, *topics, prepare=prepare)


def let_in(broker: Broker, **changes: object) -> AbstractContextManager[MqttNotifier]:
    """A station that knows the authority and the password, or something else instead."""
    login: dict[str, Any] = {"tls_ca": ca_of(broker), "username": "cook", "password": "sunny side"}
    return station(broker.port, **(login | changes))


def test_an_alert_the_broker_denies_waits_for_a_person_to_grant_it(tmp_path: Path) -> None:
    rights = tmp_path / "acl"
    rights.write_text("topic write noonpot/garden/status\n")
    with (
        Broker(tmp_path / "broker", "allow_anonymous true", f"acl_file {rights}") as broker,
        station(broker.port) as notifier,
    ):
        wait_open(notifier)
        assert notifier.tell(ALERT) == Delivery(
            Outcome.RETRY,
            "the broker refuses the alert: Not authorized; check what this user may write",
        )


def test_a_denied_state_is_counted(tmp_path: Path) -> None:
    rights = tmp_path / "acl"
    rights.write_text("topic write noonpot/garden/status\n")
    health = Health()
    with (
        Broker(tmp_path / "broker", "allow_anonymous true", f"acl_file {rights}") as broker,
        station(broker.port, health=health) as notifier,
    ):
        notifier.show("box/now", {"pot_c": 98.5})
        until(lambda: health.counts.get("mqtt-states-refused") == 1, "the refusal is counted")


def test_an_encrypted_connection_with_a_password_carries_alerts(guarded: Broker) -> None:
    with phone_of(guarded, "noonpot/+/alert") as phone, let_in(guarded) as notifier:
        wait_open(notifier)
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        phone.wait_for("alert", id=ALERT.id)


def test_a_station_closed_while_it_connects_does_not_come_online(guarded: Broker) -> None:
    guarded.freeze()
    with let_in(guarded, station="shed"):
        until(guarded.has_unread, "the handshake has begun")
    guarded.thaw()
    until(lambda: not threads("shed"), "the network thread ends")
    with phone_of(guarded, "noonpot/+/status") as phone, let_in(guarded):
        phone.wait_for("garden/status", status="online")
        assert phone.messages("shed/status") == []


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_wrong_password_is_named(guarded: Broker, protocol: str) -> None:
    wrong = {"password": "rainy side"}
    with let_in(guarded, protocol=protocol, **wrong) as notifier:
        wait_problem(notifier, "the broker refuses the login of 'cook'")
        assert "rainy" not in str(notifier.problem)
        assert notifier.tell(ALERT).outcome is Outcome.RETRY


def test_a_refused_station_knocks_less_often_than_an_impatient_client(guarded: Broker) -> None:
    refused = threading.Semaphore(0)
    impatient = mqtt.Client(CallbackAPIVersion.VERSION2)
    impatient.tls_set(str(ca_of(guarded)))
    impatient.reconnect_delay_set(1, 1)
    impatient.on_connect = lambda *_: refused.release()
    with let_in(guarded, username=None) as notifier:
        wait_problem(notifier, "refuses")
        impatient.connect_async("127.0.0.1", guarded.port)
        impatient.loop_start()
        assert refused.acquire(timeout=DEADLINE_S)
        assert refused.acquire(timeout=DEADLINE_S)
        assert (guarded.folder / "log").read_text().count("not authorised") == 1 + 2
    impatient.loop_stop()


def test_a_missing_login_is_named(guarded: Broker) -> None:
    with let_in(guarded, username=None) as notifier:
        wait_problem(notifier, "the broker refuses a login without a name")


# paho leaves a socket to the garbage collector when a TLS handshake fails.
LEAKY = pytest.mark.filterwarnings("ignore:unclosed <ssl:ResourceWarning")


@LEAKY
def test_a_broker_of_an_unknown_authority_is_not_trusted(guarded: Broker, tmp_path: Path) -> None:
    other = make_certificates(tmp_path / "other").ca
    with station(guarded.port, tls_ca=other, station="shed") as notifier:
        wait_problem(notifier, "is not trusted")
        assert "check host and tls_ca" in str(notifier.problem)
    until(lambda: not threads("shed"), "the network thread ends")


@LEAKY
def test_encryption_asked_of_a_broker_without_it_is_named(broker: Broker, tmp_path: Path) -> None:
    authority = make_certificates(tmp_path / "certificates").ca
    with station(broker.port, tls_ca=authority, station="shed") as notifier:
        wait_problem(notifier, "leave out tls_ca if it does not encrypt")
    until(lambda: not threads("shed"), "the network thread ends")


def test_encryption_not_asked_of_a_broker_that_wants_it_is_named(guarded: Broker) -> None:
    with station(guarded.port) as notifier:
        wait_problem(notifier, "hangs up without an answer")


def test_a_name_the_network_does_not_know_is_named() -> None:
    with station(free_port(), host="no-such-broker.invalid") as notifier:
        wait_problem(notifier, "no-such-broker.invalid is not known")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"host": ""}, "is no broker"),
        ({"port": 0}, "is no broker"),
        ({"port": 70000}, "is no broker"),
        ({"station": "my/garden"}, "'my/garden' cannot be part of a topic"),
        ({"station": ""}, "'' cannot be part of a topic"),
    ],
)
def test_options_that_cannot_make_a_connection_are_refused(
    change: dict[str, Any], words: str
) -> None:
    good: dict[str, Any] = {"host": "127.0.0.1", "port": 1883, "station": STATION}
    with pytest.raises(NotifierError, match=words):
        MqttOptions(**(good | change))


def test_an_authority_file_that_cannot_be_read_is_refused_at_once(tmp_path: Path) -> None:
    empty = tmp_path / "ca.crt"
    empty.touch()
    for path in (tmp_path / "missing.crt", empty):
        with (
            pytest.raises(NotifierError, match="holds no certificate"),
            station(free_port(), tls_ca=path),
        ):
            pass


def test_a_password_never_shows() -> None:
    options = MqttOptions("127.0.0.1", 1883, STATION, "cook", "sunny side")
    assert "sunny" not in repr(options)
