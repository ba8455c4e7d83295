"""A letter says by both clocks when it was written, so it keeps its time when a clock is set."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import gpiozero
import pytest

from fakes import FakeClock
from noonpot.app.hearing import INBOX, commands, signals
from noonpot.app.pagehouse import PageLetters
from noonpot.core.cook import Aim, Event, EventKind
from noonpot.core.moment import iso
from noonpot.ports import Health
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.inbox import FileInbox
from noonpot.store.reader import Reader
from store.shelf import opened

TOKEN = "secret-of-the-hill"  # noqa: S105  of a hill that there is not
BUTTON = 22
STAMP = {"boot": "boot-1", "mono_s": 1000.0}
CONFIG = f"""
[station]
name = "hill"
latitude = 40
longitude = 0
elevation_m = 1600
data = "data"

[[bus]]
name = "pots"
driver = "ds18b20"

[[cooker]]
name = "box"

[[probe]]
name = "box-pot"
role = "pot"
bus = "pots"
address = "28-0316a2795fff"
cooker = "box"

[mqtt]
host = "127.0.0.1"
command_token_file = "token"

[signals]
button = {BUTTON}
"""


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def hill(tmp_path: Path) -> Settings:
    (tmp_path / "token").write_text(TOKEN)
    (tmp_path / "token").chmod(0o600)
    (tmp_path / "noonpot.toml").write_text(CONFIG)
    settings = load(tmp_path / "noonpot.toml")
    FileInbox(settings.data / INBOX, lambda _: False)
    return settings


@pytest.fixture
def pins(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The pins that gpiozero finds by itself are mock pins."""
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    yield gpiozero.Device
    gpiozero.Device.pin_factory.close()
    gpiozero.Device.pin_factory = None


def stamp(settings: Settings) -> dict[str, object]:
    """What the one letter says of the monotonic clock."""
    (file,) = (settings.data / INBOX).glob("*.json")
    body = json.loads(file.read_text())
    return {key: body[key] for key in STAMP if key in body}


def test_a_letter_of_the_phone_says_it(hill: Settings, clock: FakeClock) -> None:
    phone = commands(hill, clock, Health(), lambda: None)
    assert phone is not None
    aim = {"azimuth": 140, "elevation": 55}
    body = {"id": "command-0", "time": iso(clock.moment().at), "token": TOKEN} | aim
    assert phone.hear("noonpot/hill/box/do/aim", json.dumps(body).encode(), retained=False) is None
    assert stamp(hill) == STAMP


def test_a_letter_of_the_button_says_it(hill: Settings, clock: FakeClock, pins: Any) -> None:
    button = signals(hill, clock, Health(), sun=lambda: Aim(140.0, 55.0), wake=lambda: None)
    assert button is not None
    button.show("box/alarm/done", {"state": "unacknowledged"})
    pins.pin_factory.pin(BUTTON).drive_low()
    pins.pin_factory.pin(BUTTON).drive_high()
    button.close()
    assert stamp(hill) == STAMP


def test_a_letter_of_the_page_says_it(hill: Settings, clock: FakeClock) -> None:
    with opened(hill.data / "noonpot.db", clock):
        archive = Reader(hill.data / "noonpot.db", clock)
        letters = PageLetters(hill.data / INBOX, archive, clock)
        letters.hand_in(Event("box", clock.moment().at, EventKind.START), "1780470000.000000-page")
    assert stamp(hill) == STAMP
