"""The whole way with push: the real daemon, a real broker, and a service that fails and heals."""

import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK, Garden, Orchard
from receiver import Receiver

HOT_C = 100.0
LINK_S = 60


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as broker:
        yield broker


def with_push(orchard: Orchard, service: Receiver) -> None:
    """Push at once, and tell at once when it fails."""
    secret = orchard.file.parent / "push-urls"
    secret.write_text(service.address())
    secret.chmod(0o600)
    push = '[push]\nurls_file = "push-urls"\ngather_s = 0\nspacing_min = 0\n'
    orchard.edit("[mqtt]", push + "[alarm.link]\non_delay_s = 0\n[mqtt]")


def wait_for_link(orchard: Orchard) -> None:
    """The machine is looked at every 20 s only."""
    never = threading.Event()
    for _ in range(LINK_S * 10):
        if orchard.select("SELECT id FROM alert WHERE alarm = 'link'"):
            return
        CLOCK.wait(never, 0.1)
    raise AssertionError(f"nothing was said within {LINK_S} s: {orchard.log()}")


def test_a_push_service_that_fails_is_told_by_the_broker_and_misses_nothing_when_it_heals(
    tmp_path: Path, broker: Broker
) -> None:
    garden = Garden(tmp_path)
    with Receiver(status=500) as service, Phone(broker.port, "noonpot/#") as phone:
        orchard = Orchard(tmp_path, garden, broker.port)
        with_push(orchard, service)
        try:
            orchard.start()
            orchard.ready()
            orchard.say("cook", "start", "box", "--food", "flatbread")
            garden.show(HOT_C)
            phone.wait_for("/alert", alarm="preheated")
            service.wait(lambda: bool(service.messages), "push is tried")
            wait_for_link(orchard)
            told = phone.wait_for("/alert", alarm="link")["text"]
            assert "push off since" in told
            assert "alarms go by mqtt" in told
            service.status = 200
            for alarm in ("preheated", "link"):
                assert settled(orchard, alarm) == "sent"
            assert orchard.end(signal.SIGTERM) == 0
        finally:
            orchard.end(signal.SIGKILL)
        assert "geheim" not in orchard.log()
        about_the_pot = [m for m in service.messages if "hot enough" in m]
        assert len({m[-6:] for m in about_the_pot}) == 1  # the code in brackets tells they are one
        ids = [m.json["id"] for m in phone.messages("/alert")]
        assert len(ids) == len(set(ids))


def settled(orchard: Orchard, alarm: str) -> str:
    """What became of the alert on the push channel, once that is known."""
    never = threading.Event()
    query = (
        "SELECT outcome FROM settlement JOIN alert ON seq = settlement.alert"
        " WHERE channel = 'push' AND alert.alarm = ?"
    )
    for _ in range(LINK_S * 10):
        found = orchard.select(query, alarm)
        if found:
            return str(found[0][0])
        CLOCK.wait(never, 0.1)
    raise AssertionError(f"{alarm} was not settled within {LINK_S} s: {orchard.log()}")
