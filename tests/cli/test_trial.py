"""``noonpot check --test-alert``: what a person hears of it, at the terminal and on the phone."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import Broker, Phone
from cli.terminal import Noonpot, garden
from receiver import Receiver, nowhere

PUSH = '\n[push]\nurls_file = "push-urls"\n'


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as broker:
        yield broker


def configured(folder: Path, mqtt_port: int | None, *addresses: str) -> None:
    file = garden(folder)
    more = f'\n[mqtt]\nhost = "127.0.0.1"\nport = {mqtt_port}\n' if mqtt_port else ""
    if addresses:
        secret = folder / "push-urls"
        secret.write_text("# the family\n" + "\n".join(addresses) + "\n")
        secret.chmod(0o600)
        more += PUSH
    file.write_text(file.read_text() + more)


def test_a_test_alert_goes_by_every_channel_and_says_what_came_of_it(
    noonpot: Noonpot, tmp_path: Path, broker: Broker
) -> None:
    with Receiver() as service, Phone(broker.port, "noonpot/orchard/#") as phone:
        configured(tmp_path, broker.port, service.address())
        said = noonpot("check", "--test-alert")
        told = phone.wait_for("orchard/alert", alarm="test", station="orchard")
        assert "TEST of orchard" in told["text"]
        assert [told["text"] in message for message in service.messages] == [True]
        assert phone.messages("/status") == []  # a check neither greets nor parts for the daemon
    assert said.code == 0, said.out
    assert "good  test alert by mqtt: the broker has it after" in said.out
    assert "good  test alert by push: taken after" in said.out
    assert "geheim" not in said.out + said.err


def test_a_channel_that_does_not_work_is_bad_and_the_next_is_tried(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    with Receiver() as service:
        configured(tmp_path, 1, nowhere(), service.address())
        said = noonpot("check", "--test-alert")
        assert len(service.messages) == 1
    assert said.code == 1
    assert "BAD   test alert by mqtt: no broker answers at 127.0.0.1 port 1" in said.out
    push = next(line for line in said.out.splitlines() if "test alert by push" in line)
    assert push.startswith("BAD ")
    assert "but not by service 1 (json): it cannot be reached" in push


def test_without_a_test_alert_nothing_is_pushed_and_bad_addresses_are_found(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    with Receiver() as service:
        configured(tmp_path, None, service.address(), "nosuch://geheim")
        said = noonpot("check")
        assert service.messages == []
    assert said.code == 1
    assert "BAD   push: service 2 (nosuch): its address is not understood" in said.out
    assert "geheim" not in said.out + said.err


def test_a_station_without_a_channel_is_told_that_no_alarm_leaves_it(
    noonpot: Noonpot, tmp_path: Path
) -> None:
    configured(tmp_path, None)
    said = noonpot("check", "--test-alert")
    assert said.code == 1
    assert "there is neither [mqtt] nor [push]" in said.out
