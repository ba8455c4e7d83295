"""Naming the probe that somebody holds, on real drivers over fake trees."""

import threading
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from hw.sysfs import W1Tree, slave_text
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.engine.identify import Warming, survey, warm_one
from noonpot.ports import Bus
from noonpot_hw import ds18b20, max31855

LOAF, POT, AIR = "28-0316a2795fff", "28-0316a2795aaa", "28-0316a2795bbb"


class Garden:
    """Three thermometers and a thermocouple, all at the temperature of the air."""

    def __init__(self, root: Path) -> None:
        self.tree = W1Tree(root)
        self.bench = SpiBench(root)
        self.node = self.bench.node("spidev0.0", word(21.0))
        self.air(21.0)
        with_clock = surroundings(FakeClock())
        self.buses: Mapping[str, Bus] = {
            "wire": ds18b20.open_bus({"base": str(self.tree.base)}, with_clock),
            "oven": max31855.open_bus({"devices": [self.node]}, with_clock),
        }

    def air(self, celsius: float) -> None:
        for address in (LOAF, POT, AIR):
            self.tree.set(address, celsius)
        self.bench.send(self.node, word(celsius))


@pytest.fixture
def garden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Garden:
    garden = Garden(tmp_path)
    garden.bench.install(monkeypatch)
    return garden


def watch(garden: Garden, stop: threading.Event | None = None) -> Iterator[Warming]:
    return warm_one(garden.buses, FakeClock(), stop or threading.Event())


def after_the_baseline(garden: Garden) -> Iterator[Warming]:
    warming = watch(garden)
    for _ in range(3):
        assert next(warming) == Warming((), None)
    return warming


def test_a_survey_shows_every_probe_with_its_value_or_its_fault(garden: Garden) -> None:
    garden.tree.write(POT, slave_text(bytes(9)))
    garden.bench.send(garden.node, 0)
    shown = {(seen.bus, seen.address): seen.outcome for seen in survey(garden.buses)}
    assert shown == {
        ("wire", LOAF): Measured(21.0),
        ("wire", POT): Defect(FaultKind.BUS_SHORTED, "all bits read 0"),
        ("wire", AIR): Measured(21.0),
        ("oven", garden.node): Defect(FaultKind.SPI_SILENT, "frame 0x00000000"),
    }


def test_a_survey_says_what_each_thing_is(garden: Garden) -> None:
    words = {seen.description for seen in survey(garden.buses)}
    assert words == {"DS18B20 thermometer", "MAX31855 thermocouple converter"}


@pytest.mark.parametrize("held", [LOAF, POT, AIR])
def test_the_probe_in_the_hand_is_named(garden: Garden, held: str) -> None:
    warming = after_the_baseline(garden)
    garden.tree.set(held, 21.5)
    first = next(warming)
    assert first.warmed is None, "half a degree may be a draught"
    assert (first.rises[0][0].address, first.rises[0][1]) == (held, 0.5)
    garden.tree.set(held, 22.5)
    last = next(warming)
    assert last.warmed is not None
    assert (last.warmed.bus, last.warmed.address) == ("wire", held)
    assert list(warming) == [], "nothing is left to watch"


def test_a_thermocouple_in_the_hand_is_named_among_thermometers(garden: Garden) -> None:
    warming = after_the_baseline(garden)
    garden.bench.send(garden.node, word(24.0))
    warmed = next(warming).warmed
    assert warmed is not None
    assert warmed.address == garden.node


def test_sun_on_all_of_them_names_none(garden: Garden) -> None:
    warming = after_the_baseline(garden)
    for celsius in (22.0, 23.0, 24.0):
        garden.air(celsius)
        assert next(warming).warmed is None
    garden.tree.set(POT, 24.75)
    warmed = next(warming).warmed
    assert warmed is not None
    assert warmed.address == POT


def test_one_odd_reading_in_the_baseline_does_not_mislead(garden: Garden) -> None:
    warming = watch(garden)
    garden.tree.set(LOAF, 19.0)
    next(warming)
    garden.tree.set(LOAF, 21.0)
    next(warming)
    next(warming)
    assert next(warming).warmed is None


@pytest.mark.parametrize(
    "spoil",
    [
        lambda tree: tree.unplug(LOAF),
        lambda tree: tree.set(LOAF, 85.0),
        lambda tree: tree.write(LOAF, slave_text(bytes(9))),
    ],
    ids=["unplugged", "start value", "shorted"],
)
def test_a_probe_that_fails_is_never_named(garden: Garden, spoil: Callable[[W1Tree], None]) -> None:
    warming = after_the_baseline(garden)
    spoil(garden.tree)
    outcome = next(warming)
    assert outcome.warmed is None
    assert LOAF not in [seen.address for seen, _ in outcome.rises]


def test_a_probe_plugged_in_later_has_nothing_to_compare_with(garden: Garden) -> None:
    garden.tree.unplug(LOAF)
    warming = after_the_baseline(garden)
    garden.tree.set(LOAF, 35.0)
    assert next(warming).warmed is None


def test_the_only_probe_needs_no_rival(garden: Garden) -> None:
    garden.buses = {"oven": garden.buses["oven"]}
    warming = after_the_baseline(garden)
    garden.bench.send(garden.node, word(23.0))
    assert next(warming).warmed is not None


def test_watching_ends_when_told_to_and_pauses_between_rounds(garden: Garden) -> None:
    stop, clock = threading.Event(), FakeClock()
    warming = warm_one(garden.buses, clock, stop, pause_s=1.5)
    next(warming)
    next(warming)
    assert clock.moment().mono_s == 1001.5
    stop.set()
    assert list(warming) == []
