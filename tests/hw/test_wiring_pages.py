"""The pages that a person follows name what the drivers of light and of topics really take."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory

from configurations import full_example
from fakes import FakeClock
from hw.surroundings import surroundings
from noonpot.app.buses import drivers
from noonpot.ports import BusFactory
from noonpot.settings.panel import SignalsSection
from noonpot_hw import ads1115, topic

PAGE = (Path(ads1115.__file__).parents[1] / "README.md").read_text(encoding="utf-8")
# Files of one machine, and what stands in the example as a sentence: one of two ways to say it.
OWN_FILES = {"username", "password_file", "tls_ca"}
OTHER_WAY = {"ma_at_1000_wm2", "shunt_ohm"}


def opens(section: Mapping[str, object], without: set[str]) -> None:
    """Let the installed driver take the options of a [[bus]] section."""
    factory: BusFactory = drivers()[str(section["driver"])].load()
    options = {k: v for k, v in section.items() if k not in {"name", "driver"} | without}
    factory(options, surroundings(FakeClock())).close()


@pytest.mark.parametrize(
    ("driver", "options"), [("ads1115", ads1115.OPTIONS), ("topic", topic.OPTIONS)]
)
def test_the_example_configuration_shows_every_option(
    tmp_path: Path, driver: str, options: tuple[str, ...]
) -> None:
    path = full_example(tmp_path)
    buses = tomllib.loads(path.read_text(encoding="utf-8"))["bus"]
    (section,) = (bus for bus in buses if bus["driver"] == driver)
    assert section.keys() - {"name", "driver"} == set(options) - OTHER_WAY
    assert all(key in path.read_text(encoding="utf-8") for key in OTHER_WAY)
    opens(section, OWN_FILES)


def test_every_configuration_on_the_hardware_page_is_one_that_a_driver_takes() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
    sections = [bus for block in blocks for bus in tomllib.loads(block).get("bus", [])]
    assert {bus["driver"] for bus in sections} == {"ds18b20", "max31855", "ads1115", "topic"}
    for section in sections:
        opens(section, set())


def test_the_pins_of_the_signals_are_where_the_page_says() -> None:
    """Source: the table of the Pi's header that gpiozero brings along."""
    part = PAGE.split("## A buzzer, a lamp, a button")[1].split("\n## ")[0]
    (block,) = re.findall(r"```toml\n(.*?)```", part, flags=re.DOTALL)
    wired = tomllib.loads(block)["signals"]
    SignalsSection.model_validate(wired)
    told = {int(gpio): int(pin) for pin, gpio in re.findall(r"\| (\d+) \| GPIO(\d+)", part)}
    assert told.keys() == set(wired.values())
    for gpio, pin in told.items():
        info = MockFactory().pin(gpio).info
        assert (info.name, info.number) == (f"GPIO{gpio}", pin)
    drawing = (Path(ads1115.__file__).parents[1] / "wiring" / "signals.svg").read_text()
    drawn = re.findall(r'class="(name|pin)" x="(\d+)" y="\d+">([^<]+)', drawing)
    names = {x: text for kind, x, text in drawn if kind == "name"}
    pins = {names[x]: int(text) for kind, x, text in drawn if kind == "pin"}
    assert pins == {f"GPIO{gpio}": pin for gpio, pin in told.items()} | {"5 V": 4, "GND": 14}


def test_the_page_names_each_way_to_set_the_address_of_the_chip() -> None:
    for chip in ads1115.CHIPS:
        assert f"0x{chip:X}" in PAGE
