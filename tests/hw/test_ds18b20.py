"""The real w1thermsensor on trees as the kernel makes them."""

import random
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fakes import FakeClock
from hw.surroundings import surroundings
from hw.sysfs import NOBODY, W1Tree, crc8, scratchpad, slave_text
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import Moment
from noonpot.core.readings import Defect, Fault, FaultKind, Measured, Reading
from noonpot.errors import BusError
from noonpot.ports import Bus, Clock
from noonpot_hw.ds18b20 import open_bus

PROBE = "28-0316a2795fff"
OTHER = "28-0000075b2c1e"
AT = datetime(2026, 6, 3, 9, 0, tzinfo=UTC)


class ClockThatPasses(FakeClock):
    """A clock on which so many seconds go by between two looks."""

    def __init__(self, between_looks_s: float) -> None:
        super().__init__()
        self.between_looks_s = between_looks_s

    def moment(self) -> Moment:
        return self.advance(self.between_looks_s)


def bus_on(tree: W1Tree, clock: Clock | None = None, **options: object) -> Bus:
    clock = clock or ClockThatPasses(0.75)
    return open_bus({"base": str(tree.base), **options}, surroundings(clock))


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    return W1Tree(tmp_path)


@pytest.mark.parametrize("celsius", [-10.125, -0.0625, 0.0, 23.5, 84.9375, 85.0625, 99.0, 125.0])
def test_a_sound_reading_is_the_temperature_of_the_sensor(tree: W1Tree, celsius: float) -> None:
    tree.set(PROBE, celsius)
    assert bus_on(tree).read(PROBE) == Measured(celsius)


def test_exactly_85_degrees_comes_with_its_doubt(tree: W1Tree) -> None:
    tree.set(PROBE, 85.0)
    assert bus_on(tree).read(PROBE) == Measured(85.0, FaultKind.POWER_ON_VALUE)


SOUND = scratchpad(23.5)
FLIPPED = bytes((SOUND[0] ^ 0x10,)) + SOUND[1:]

BAD_TEXTS: Mapping[str, tuple[str, FaultKind]] = {
    "the kernel finds a wrong checksum": (slave_text(FLIPPED, SOUND), FaultKind.CHECKSUM),
    "the kernel says yes to a wrong checksum": (
        slave_text(FLIPPED).replace("NO", "YES"),
        FaultKind.CHECKSUM,
    ),
    "the kernel says no to a right checksum": (
        slave_text(SOUND).replace("YES", "NO"),
        FaultKind.CHECKSUM,
    ),
    "all bits 0, checksum right": (slave_text(bytes(9)), FaultKind.BUS_SHORTED),
    "all bits 1": (slave_text(NOBODY, SOUND), FaultKind.NOT_ANSWERING),
    "all bits 1, nothing kept": (slave_text(NOBODY), FaultKind.NOT_ANSWERING),
    "empty": ("", FaultKind.NOT_ANSWERING),
    "first line only": (slave_text(SOUND).split("\n")[0] + "\n", FaultKind.GARBLED),
    "second line cut": (slave_text(SOUND)[:45], FaultKind.GARBLED),
    "second line of another read": (
        slave_text(SOUND).split("\n")[0] + "\n" + slave_text(scratchpad(60.0)).split("\n")[1],
        FaultKind.GARBLED,
    ),
    "no hex": ("zz xx not a scratchpad YES\nzz xx t=23500\n", FaultKind.GARBLED),
    "no letters at all": ("\u00e9\u00ff" * 9, FaultKind.GARBLED),
    "first line cut": ("78 01 4b\n", FaultKind.GARBLED),
    "a blank line": ("\n", FaultKind.GARBLED),
    "too little power": (slave_text(scratchpad(127.9375)), FaultKind.LOW_POWER),
    "colder than any food": (slave_text(scratchpad(-20.0625)), FaultKind.OUT_OF_RANGE),
    "impossible cold of a torn-off probe": (
        slave_text(scratchpad(-109.9375)),
        FaultKind.OUT_OF_RANGE,
    ),
    "above the sensor's limit": (slave_text(scratchpad(125.0625)), FaultKind.OUT_OF_RANGE),
}


@pytest.mark.parametrize(("text", "kind"), BAD_TEXTS.values(), ids=BAD_TEXTS)
def test_every_bad_text_has_its_own_name(tree: W1Tree, text: str, kind: FaultKind) -> None:
    tree.write(PROBE, text)
    outcome = bus_on(tree).read(PROBE)
    assert isinstance(outcome, Defect)
    assert outcome.kind is kind
    assert outcome.detail


def test_a_missing_probe_is_a_value_and_comes_back(tree: W1Tree) -> None:
    bus = bus_on(tree)
    tree.set(PROBE, 40.0)
    assert bus.read(PROBE) == Measured(40.0)
    tree.unplug(PROBE)
    assert bus.read(PROBE) == Defect(FaultKind.NOT_ANSWERING, f"{PROBE} is not on the bus")
    tree.set(PROBE, 41.0)
    assert bus.read(PROBE) == Measured(41.0)


def test_a_probe_the_kernel_cannot_read_is_not_answering(tree: W1Tree) -> None:
    tree.set(PROBE, 40.0)
    (tree.base / PROBE / "w1_slave").unlink()
    (tree.base / PROBE / "w1_slave").mkdir()
    outcome = bus_on(tree).read(PROBE)
    assert outcome == Defect(FaultKind.NOT_ANSWERING, f"the kernel cannot read {PROBE}")


def test_a_missing_bus_names_the_overlay_and_not_the_probe(tmp_path: Path) -> None:
    bus = open_bus({"base": str(tmp_path / "none")}, surroundings(FakeClock()))
    assert bus.scan() == []
    outcome = bus.read(PROBE)
    assert isinstance(outcome, Defect)
    assert outcome.kind is FaultKind.NOT_ANSWERING
    assert "dtoverlay=w1-gpio" in outcome.detail


@pytest.mark.parametrize("address", ["", "28-", "28-xyz", "../28-0316a2795fff", "10-0316a2795fff"])
def test_an_address_that_is_none_is_not_answering(tree: W1Tree, address: str) -> None:
    sentence = f"{address!r} is no address like 28-0316a2795fff"
    assert bus_on(tree).read(address) == Defect(FaultKind.NOT_ANSWERING, sentence)


def test_the_same_bytes_too_soon_are_stale(tree: W1Tree) -> None:
    clock = ClockThatPasses(0.07)
    bus = bus_on(tree, clock)
    tree.set(PROBE, 60.0)
    tree.set(OTHER, 60.0)
    assert bus.read(PROBE) == Measured(60.0), "the first read has nothing to repeat"
    assert bus.read(OTHER) == Measured(60.0), "another probe at the same temperature is no repeat"
    assert bus.read(PROBE) == Measured(60.0, FaultKind.STALE)
    tree.set(PROBE, 60.0625)
    assert bus.read(PROBE) == Measured(60.0625), "fast, but new"
    clock.between_looks_s = 0.75
    assert bus.read(PROBE) == Measured(60.0625), "the same, but slow enough to be measured"


def test_a_coarse_sensor_may_be_quick(tree: W1Tree) -> None:
    bus = bus_on(tree, ClockThatPasses(0.07))
    tree.set(PROBE, 60.5, resolution_bits=9)
    assert [bus.read(PROBE), bus.read(PROBE)] == [Measured(60.5), Measured(60.5)]


def test_staleness_can_be_switched_off(tree: W1Tree) -> None:
    bus = bus_on(tree, FakeClock(), min_read_s=0)
    tree.set(PROBE, 60.0)
    assert [bus.read(PROBE), bus.read(PROBE)] == [Measured(60.0), Measured(60.0)]


def test_two_buses_do_not_disturb_each_other(tmp_path: Path) -> None:
    first_tree, second_tree = W1Tree(tmp_path / "a"), W1Tree(tmp_path / "b")
    first_tree.set(PROBE, 20.0)
    second_tree.set(PROBE, 70.0)
    second_tree.set(OTHER, 71.0)
    first, second = bus_on(first_tree), bus_on(second_tree)
    assert [first.read(PROBE), second.read(PROBE)] == [Measured(20.0), Measured(70.0)]
    assert [found.address for found in first.scan()] == [PROBE]
    assert first.read(PROBE) == Measured(20.0)


def test_a_scan_lists_thermometers_and_warns_of_two_wires(tree: W1Tree) -> None:
    tree.set(PROBE, 20.0)
    tree.set(OTHER, 20.0)
    tree.feed_through_data_wire(OTHER)
    described = {found.address: found.description for found in bus_on(tree).scan()}
    assert described == {
        PROBE: "DS18B20 thermometer",
        OTHER: "DS18B20 thermometer, two-wire power: may fail when hot",
    }


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"bse": "/sys"}, "unknown option 'bse'; there are 'base' and 'min_read_s'"),
        ({"base": 5}, "base is 5; give a full path"),
        ({"base": "devices"}, "base is 'devices'; give a full path"),
        ({"min_read_s": "fast"}, "min_read_s is 'fast'; give seconds"),
        ({"min_read_s": True}, "min_read_s is True; give seconds"),
        ({"min_read_s": 2.0}, "min_read_s is 2.0; it must be between 0 and 0.75"),
    ],
)
def test_a_wrong_option_is_named(options: dict[str, object], sentence: str) -> None:
    with pytest.raises(BusError, match="ds18b20: ") as caught:
        open_bus(options, surroundings(FakeClock()))
    assert sentence in str(caught.value)


def test_any_text_whatever_is_a_value(tree: W1Tree) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    bus = bus_on(tree)
    for _ in range(500):
        text = bytearray(slave_text(scratchpad(chance.uniform(-20, 125))), "ascii")
        for _ in range(chance.randrange(1, 4)):
            text[chance.randrange(len(text))] = chance.randrange(256)
        cut = bytes(text[: chance.randrange(len(text) + 1)])
        (tree.base / PROBE).mkdir(exist_ok=True)
        (tree.base / PROBE / "w1_slave").write_bytes(cut)
        outcome = bus.read(PROBE)
        if isinstance(outcome, Measured):
            nine = bytes.fromhex(cut[:26].decode())
            assert crc8(nine) == 0, f"{cut!r} was believed"


def test_a_pot_warming_through_85_is_believed_to_the_end(tree: W1Tree) -> None:
    bus, probe_filter = bus_on(tree), ProbeFilter()
    believed = []
    for step, sixteenth in enumerate(range(84 * 16, 86 * 16 + 1)):
        tree.set(PROBE, sixteenth / 16)
        outcome = bus.read(PROBE)
        assert isinstance(outcome, Measured)
        sample = Reading("loaf", AT, 10.0 * step, outcome.value, outcome.doubt)
        believed.append(probe_filter.accept(sample))
    assert not [sample for sample in believed if isinstance(sample, Fault)]
    assert 85.0 in [sample.value for sample in believed if isinstance(sample, Reading)]
