"""A connection that breaks, hangs or dies, and heals."""

import ctypes
import re
import threading
from dataclasses import replace
from pathlib import Path

import psutil
import pytest

from broker import DEADLINE_S, Broker, Phone, free_port, until
from noonpot.ports import Delivery, Health, Outcome
from stations import ALERT, AT, station, threads, wait_open, wait_problem


def test_what_a_broker_acknowledged_and_lost_in_a_crash_is_sent_again(broker: Broker) -> None:
    with Phone(broker.port, "noonpot/+/alert"):
        broker.save()
    with station(broker.port) as notifier:
        wait_open(notifier)
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        broker.kill()
        broker.fall_back()
        wait_problem(notifier, "broke")
        broker.start()
        wait_open(notifier)
        assert notifier.tell(replace(ALERT, id="next")).outcome is Outcome.SENT
        with Phone(broker.port, "noonpot/+/alert") as phone:
            phone.wait_for("alert", id="next")
            assert [message.json["id"] for message in phone.messages()] == [ALERT.id, "next"]


def test_what_was_under_way_when_the_line_broke_is_left_to_the_outbox(broker: Broker) -> None:
    answers: list[Delivery] = []
    with Phone(broker.port, "noonpot/+/alert") as phone, station(broker.port, ack_limit_s=60) as it:
        broker.save()
        wait_open(it)
        broker.freeze()
        telling = threading.Thread(target=lambda: answers.append(it.tell(ALERT)))
        telling.start()
        until(broker.has_unread, "the alert is under way")
        broker.kill()
        telling.join(DEADLINE_S)
        assert [answer.outcome for answer in answers] == [Outcome.RETRY]
        assert "broke" in answers[0].reason
        broker.start()
        wait_open(it)
        assert it.tell(replace(ALERT, id="next")).outcome is Outcome.SENT
        phone.wait_for("alert", id="next")
        assert [message.json["id"] for message in phone.messages()] == ["next"]


def test_a_broker_that_is_away_neither_delays_the_start_nor_loses_the_station(
    tmp_path: Path,
) -> None:
    broker = Broker(tmp_path / "broker")
    opened = threading.Event()
    with station(broker.port, on_open=opened.set) as notifier:
        wait_problem(notifier, f"no broker answers at 127.0.0.1 port {broker.port}")
        refusal = notifier.tell(ALERT)
        assert refusal.outcome is Outcome.RETRY
        assert "check that it runs" in refusal.reason
        assert notifier.problem is not None
        assert notifier.problem.since == AT
        with broker:
            assert opened.wait(DEADLINE_S)
            assert notifier.tell(ALERT).outcome is Outcome.SENT


def test_a_failing_listener_neither_ends_the_network_thread_nor_stays_unseen(
    broker: Broker,
) -> None:
    def fail() -> None:
        raise ValueError("a listener with a fault")

    health = Health()
    with station(broker.port, health=health, on_open=fail) as notifier:
        until(lambda: health.counts.get("mqtt-callback-errors") == 1, "the error is counted")
        assert notifier.tell(ALERT).outcome is Outcome.SENT


class Unforeseen(BaseException):
    """What nobody thought of."""


def end_thread(name: str) -> None:
    """Let the thread of this name end at its next step."""
    (thread,) = threads(name)
    ending = ctypes.pythonapi.PyThreadState_SetAsyncExc
    assert ending(ctypes.c_ulong(thread.ident or 0), ctypes.py_object(Unforeseen)) == 1
    thread.join(DEADLINE_S)
    assert not thread.is_alive()


def state_follows_last_will(phone: Phone) -> bool:
    heard = phone.messages()
    (last_will,) = [n for n, message in enumerate(heard) if message.json.get("last_will")]
    return any(message.topic.endswith("box/now") for message in heard[last_will:])


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_dead_network_thread_is_noticed_and_replaced(broker: Broker) -> None:
    health = Health()
    with (
        Phone(broker.port, "noonpot/#") as phone,
        station(broker.port, health=health, station="shed") as notifier,
    ):
        notifier.show("box/now", {"pot_c": 98.5})
        phone.wait_for("box/now")
        end_thread("shed")
        wait_problem(notifier, "network thread has died")
        assert notifier.tell(ALERT).outcome is Outcome.RETRY
        notifier.supervise()
        phone.wait_for("status", status="offline", last_will=True)
        wait_open(notifier)
        phone.wait_for("status", status="online")
        assert notifier.tell(ALERT).outcome is Outcome.SENT
        phone.wait(lambda: state_follows_last_will(phone), "the state comes again")
        notifier.supervise()
        assert health.counts["mqtt-restarts"] == 1


def test_a_connection_attempt_that_dies_is_named_and_begun_anew() -> None:
    health = Health()

    def restarted(times: int) -> bool:
        notifier.supervise()
        return health.counts.get("mqtt-restarts", 0) >= times

    with station(free_port(), health=health, host="broker..local") as notifier:
        until(lambda: restarted(2), "the connection is begun again")
        assert notifier.problem is not None
        # Python 3.11 says "encoding with 'idna' codec failed", 3.13 "'idna' codec can't encode".
        assert re.search("started again: .*'idna' codec", notifier.problem.text)


def test_a_frozen_broker_costs_little_time_and_gets_no_double(broker: Broker) -> None:
    with (
        Phone(broker.port, "noonpot/+/alert") as phone,
        station(broker.port, ack_limit_s=0.1) as notifier,
    ):
        wait_open(notifier)
        broker.freeze()
        for _ in range(2):
            assert notifier.tell(ALERT) == Delivery(
                Outcome.RETRY, "the broker does not acknowledge"
            )
        broker.thaw()
        until(lambda: notifier.tell(ALERT).outcome is Outcome.SENT, "the alert is acknowledged")
        phone.wait_for("alert", id=ALERT.id)
        assert notifier.tell(replace(ALERT, id="another")).outcome is Outcome.SENT
        phone.wait_for("alert", id="another")
        assert [m.json["id"] for m in phone.messages()] == [ALERT.id, "another"]


def test_a_silent_broker_is_noticed_without_anything_to_tell(broker: Broker) -> None:
    with station(broker.port, keepalive_s=1) as notifier:
        wait_open(notifier)
        broker.freeze()
        wait_problem(notifier, "Keep alive timeout")


def lines_to(broker: Broker) -> set[int]:
    """The own ports of all open connections from here to the broker."""
    connections = psutil.Process().net_connections("tcp4")
    there = [c for c in connections if c.raddr and c.raddr.port == broker.port]
    return {c.laddr.port for c in there if c.status == psutil.CONN_ESTABLISHED}


def test_a_connection_without_any_acknowledgement_is_replaced(broker: Broker) -> None:
    health = Health()
    with station(broker.port, health=health, ack_limit_s=0.05) as notifier:
        wait_open(notifier)
        (line,) = lines_to(broker)
        broker.freeze()
        for _ in range(3):
            notifier.supervise()
            assert "mqtt-restarts" not in health.counts
            notifier.tell(ALERT)
        notifier.supervise()
        assert health.counts["mqtt-restarts"] == 1
        assert line not in lines_to(broker)
        wait_problem(notifier, "acknowledges nothing")
        broker.thaw()
        wait_open(notifier)
        with Phone(broker.port, "noonpot/+/alert") as phone:
            until(lambda: notifier.tell(ALERT).outcome is Outcome.SENT, "it is acknowledged")
            phone.wait_for("alert", id=ALERT.id)


def test_closing_ends_soon_though_the_broker_is_frozen_and_the_goodbye_arrives(
    broker: Broker,
) -> None:
    with Phone(broker.port, "noonpot/+/status") as phone, station(broker.port) as notifier:
        phone.wait_for("status", status="online")
        broker.freeze()
        closing = threading.Thread(target=notifier.close)
        closing.start()
        closing.join(DEADLINE_S)
        assert not closing.is_alive()
        assert notifier.tell(ALERT) == Delivery(Outcome.RETRY, "closed")
        broker.thaw()
        phone.wait_for("status", status="offline")


def test_a_station_pushed_out_by_another_of_its_name_learns_where_to_look(broker: Broker) -> None:
    with station(broker.port) as first:
        wait_open(first)
        with Phone(broker.port, "x", name="noonpot-garden"):
            wait_problem(first, "another client calls itself 'noonpot-garden'")
