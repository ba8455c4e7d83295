"""The whole way: a cooker behind probe files, the real daemon, a real broker, and a phone."""

import json
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from broker import Broker, Phone
from e2e.orchard import Garden, Orchard

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def garden(tmp_path: Path) -> Garden:
    return Garden(tmp_path)


@pytest.fixture
def orchard(tmp_path: Path, garden: Garden, broker: Broker) -> Iterator[Orchard]:
    orchard = Orchard(tmp_path, garden, broker.port)
    yield orchard
    orchard.end(signal.SIGKILL)


def alerts(phone: Phone) -> list[str]:
    """The alarms that were told, in order, doubles dropped by their id."""
    told = {m.json["id"]: m.json["alarm"] for m in reversed(phone.messages("/alert"))}
    return list(reversed(told.values()))


def heard(phone: Phone, alarm: str) -> bool:
    return alarm in alerts(phone)


def test_one_cook_from_the_probe_to_the_phone(
    broker: Broker, garden: Garden, orchard: Orchard
) -> None:
    with Phone(broker.port, "noonpot/#") as phone:
        orchard.start()
        phone.wait_for("/status", status="online")
        orchard.ready()
        orchard.say("cook", "start", "box", "--food", "flatbread")
        garden.live(lambda: heard(phone, "preheated"), "the pot is hot")
        orchard.say("cook", "mark", "box", "aim", "azimuth=0", "elevation=5")
        garden.live(lambda: heard(phone, "turn"), "the misaim is told")
        garden.happen("load", food="bread", mass_kg=0.4, start_c=25)
        orchard.say("cook", "load", "box", "--mass-kg", "0.4")

        # The broker is away when the bread is done, and the daemon dies before it is back.
        broker.stop()
        garden.live(lambda: orchard.stored("done") == 1, "the bread is done")
        orchard.end(signal.SIGKILL)
        broker.start()
        assert not heard(phone, "done")
        orchard.start()
        phone.wait_for("/alert", alarm="done")
        phone.wait_for("/alarm/done", state="unacknowledged")
        assert alerts(phone) == ["preheated", "turn", "done"]

        # A second death, heard as the last will; the restart repeats nothing.
        orchard.end(signal.SIGKILL)
        phone.wait_for("/status", status="offline", last_will=True)
        orchard.start()
        phone.wait_for("/status", status="online")
        orchard.say("cook", "mark", "box", "unload")
        phone.wait_for("/alarm/done", state="acknowledged")
        assert orchard.end(signal.SIGTERM) == 0
        phone.wait_for("/status", status="offline", last_will=False)
        assert alerts(phone) == ["preheated", "turn", "done"]
        check_every_message(phone)


def check_every_message(phone: Phone) -> None:
    """All that was published is as docs/messages.md promises."""
    kinds = {"status": "/status", "now": "/now", "forecast": "/forecast", "alert": "/alert"}
    for kind, end in kinds.items():
        messages = phone.messages(end)
        assert messages, f"nothing was published to {end}"
        validator = Draft202012Validator(json.loads((SCHEMAS / f"{kind}.json").read_text()))
        for message in messages:
            validator.validate(message.json)


def test_check_and_probes_find_the_station_in_order(garden: Garden, orchard: Orchard) -> None:
    said = orchard.say("check")
    assert "BAD" not in said
    for what in ("probe pot", "probe loaf", "probe shade", "broker"):
        assert f"good  {what}: " in said
    seen = [json.loads(line) for line in orchard.say("probes", "--json").splitlines()]
    shown = {one["probe"]: one["value"] for one in seen}
    assert shown["loaf"] == pytest.approx(garden.shown("box/core"), abs=1 / 16)
    assert shown["pot"] == pytest.approx(garden.shown("box/pot"), abs=0.5)
