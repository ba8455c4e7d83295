"""The real Adafruit driver over our spidev bus, on chips that answer at the ioctl."""

import errno
import importlib.util
import os
import random
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Clock
from noonpot_hw.max31855 import open_bus

needs_gpiod = pytest.mark.skipif(
    importlib.util.find_spec("gpiod") is None,
    reason="gpiod is not installed; it is a requirement on a Pi only",
)
AS_ON_A_PI = {"BLINKA_FORCECHIP": "BCM2XXX", "BLINKA_FORCEBOARD": "RASPBERRY_PI_4B"}


def bus_with(*nodes: str, clock: Clock | None = None) -> Bus:
    return open_bus({"devices": list(nodes)}, surroundings(clock or FakeClock()))


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SpiBench:
    bench = SpiBench(tmp_path)
    bench.install(monkeypatch)
    return bench


def value_of(outcome: Measured | Defect) -> float:
    assert isinstance(outcome, Measured), outcome
    return outcome.value


def kind_of(outcome: Measured | Defect) -> FaultKind:
    assert isinstance(outcome, Defect), outcome
    return outcome.kind


def test_a_sound_frame_is_a_temperature_by_the_reference_functions(bench: SpiBench) -> None:
    node = bench.node("spidev0.0", word(197.93, 25.0))
    # The chip's straight line says 198.0; by ITS-90 that is 200 °C. Source: NIST type K table.
    assert value_of(bus_with(node).read(node)) == pytest.approx(200.0, abs=0.2)


def test_the_node_is_put_into_mode_0_whoever_used_it_last(bench: SpiBench) -> None:
    node = bench.node("spidev0.0", word(100.0))
    bench.modes[node] = 3
    bus_with(node).read(node)
    assert bench.modes[node] == 0


BAD_FRAMES: Mapping[str, tuple[int, FaultKind]] = {
    "all zero": (0x00000000, FaultKind.SPI_SILENT),
    "all one": (0xFFFFFFFF, FaultKind.SPI_STUCK_HIGH),
    "open": (word(0.0, causes=1), FaultKind.OPEN_CIRCUIT),
    "short to ground": (word(0.0, causes=2), FaultKind.SHORT_TO_GROUND),
    "short to supply": (word(0.0, causes=4), FaultKind.SHORT_TO_SUPPLY),
    "open and shorted": (word(0.0, causes=7), FaultKind.OPEN_CIRCUIT),
    "fault without a cause": (word(200.0) | 1 << 16, FaultKind.CONVERTER_FAULT),
    "cause without the fault bit": (word(200.0) | 1, FaultKind.FRAME_ERROR),
    "reserved bit 17": (word(200.0) | 1 << 17, FaultKind.FRAME_ERROR),
    "reserved bit 3": (word(200.0) | 1 << 3, FaultKind.FRAME_ERROR),
    "shifted by one bit": (word(200.25, 25.0625) >> 1, FaultKind.FRAME_ERROR),
    "wired backwards in the oven": (word(-150.0), FaultKind.REVERSED),
    "so far backwards that no voltage is that low": (word(-250.0), FaultKind.REVERSED),
    "hotter than any cooker": (word(510.0), FaultKind.OUT_OF_RANGE),
    "colder than any cooker at a cold board": (word(-30.0, -25.0), FaultKind.OUT_OF_RANGE),
    "hotter than any voltage": (word(1600.0), FaultKind.OUT_OF_RANGE),
    "board too hot": (word(100.0, 85.0625), FaultKind.BOARD_TOO_HOT),
}


@pytest.mark.parametrize(("frame", "kind"), BAD_FRAMES.values(), ids=BAD_FRAMES)
def test_every_bad_frame_has_its_own_name(bench: SpiBench, frame: int, kind: FaultKind) -> None:
    node = bench.node("spidev0.0", frame)
    outcome = bus_with(node).read(node)
    assert kind_of(outcome) is kind
    assert isinstance(outcome, Defect)
    assert outcome.detail


# From the second frame only the board's temperature is taken.
@pytest.mark.parametrize(
    ("frame", "kind"),
    [
        (frame, kind)
        for frame, kind in BAD_FRAMES.values()
        if kind not in (FaultKind.REVERSED, FaultKind.OUT_OF_RANGE, FaultKind.BOARD_TOO_HOT)
    ],
)
def test_a_bad_second_frame_spoils_the_reading_too(
    bench: SpiBench, frame: int, kind: FaultKind
) -> None:
    node = bench.node("spidev0.0", word(100.0, 25.0), frame)
    outcome = bus_with(node).read(node)
    assert kind_of(outcome) is kind


def test_a_food_from_the_fridge_is_not_wired_backwards(bench: SpiBench) -> None:
    node = bench.node("spidev0.0", word(-5.0, 30.0))
    assert value_of(bus_with(node).read(node)) == pytest.approx(-6.1, abs=0.5)


def test_a_frame_shifted_within_one_reading_is_seen_at_the_board(bench: SpiBench) -> None:
    # Shifted to the left no reserved bit shows it: 200 °C would read 400 °C at a board of 50 °C.
    good = word(200.0, 25.0)
    node = bench.node("spidev0.0", good, good << 1)
    assert kind_of(bus_with(node).read(node)) is FaultKind.FRAME_ERROR


def test_frames_shifted_from_one_reading_to_the_next_are_seen_at_the_board(
    bench: SpiBench,
) -> None:
    good = word(100.0, 25.0)
    node = bench.node("spidev0.0", good, good, good << 1, good << 1, good << 1, good << 1)
    clock = FakeClock()
    bus = bus_with(node, clock=clock)
    value_of(bus.read(node))
    clock.advance(2)
    assert kind_of(bus.read(node)) is FaultKind.FRAME_ERROR


def test_a_board_that_warmed_over_a_long_pause_is_no_frame_error(bench: SpiBench) -> None:
    cool, warm = word(100.0, 25.0), word(100.0, 40.0)
    node = bench.node("spidev0.0", cool, cool, warm, warm)
    clock = FakeClock()
    bus = bus_with(node, clock=clock)
    value_of(bus.read(node))
    clock.advance(60)
    value_of(bus.read(node))


def test_one_dead_board_leaves_the_other_alone_and_comes_back(bench: SpiBench) -> None:
    first, second = bench.node("spidev0.0", 0), bench.node("spidev0.1", word(100.0))
    bus = bus_with(first, second)
    assert kind_of(bus.read(first)) is FaultKind.SPI_SILENT
    value_of(bus.read(second))
    bench.send(first, word(90.0))
    assert value_of(bus.read(first)) == pytest.approx(90.0, abs=0.2)


def test_a_missing_node_is_a_value_and_may_appear_later(bench: SpiBench, tmp_path: Path) -> None:
    node = str(tmp_path / "spidev0.0")
    bus = bus_with(node)
    assert bus.scan() == []
    assert kind_of(bus.read(node)) is FaultKind.NOT_ANSWERING
    bench.node("spidev0.0", word(100.0))
    assert [found.address for found in bus.scan()] == [node]
    value_of(bus.read(node))


def test_a_node_that_is_not_of_the_bus_is_not_opened(bench: SpiBench) -> None:
    node, other = bench.node("spidev0.0", word(100.0)), bench.node("spidev0.1", word(100.0))
    assert kind_of(bus_with(node).read(other)) is FaultKind.NOT_ANSWERING


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (errno.EBUSY, FaultKind.BUS_BUSY),
        (errno.ENODEV, FaultKind.NOT_ANSWERING),
        (errno.ENXIO, FaultKind.NOT_ANSWERING),
        (errno.EACCES, FaultKind.DRIVER_ERROR),
        (errno.EIO, FaultKind.DRIVER_ERROR),
    ],
)
@pytest.mark.parametrize("when", ["at the first read", "later"])
def test_a_refusal_of_the_kernel_is_a_value_and_can_pass(
    bench: SpiBench, when: str, error: int, kind: FaultKind
) -> None:
    node = bench.node("spidev0.0", word(100.0))
    bus = bus_with(node)
    if when == "later":
        value_of(bus.read(node))
    bench.refuse(node, error)
    outcome = bus.read(node)
    assert outcome == Defect(kind, f"{node}: {os.strerror(error)}")
    bench.refuse(node, 0)
    value_of(bus.read(node))


def test_no_read_leaves_a_file_open_once_the_bus_is_closed(bench: SpiBench) -> None:
    def open_nodes() -> list[str]:
        links = [link for link in Path("/proc/self/fd").iterdir() if link.is_symlink()]
        return [str(link.readlink()) for link in links]

    node = bench.node("spidev0.0", word(100.0))
    bus = bus_with(node)
    value_of(bus.read(node))
    assert open_nodes().count(node) == 1
    bench.refuse(node, errno.EIO)
    for _ in range(3):
        kind_of(bus.read(node))
    assert open_nodes().count(node) == 0
    bench.refuse(node, 0)
    value_of(bus.read(node))
    bus.close()
    assert open_nodes().count(node) == 0


def test_any_frame_whatever_is_a_value(bench: SpiBench) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    node = bench.node("spidev0.0", 0)
    bus = bus_with(node)
    for _ in range(2000):
        frame = chance.getrandbits(32)
        bench.send(node, frame)
        outcome = bus.read(node)
        if isinstance(outcome, Measured):
            assert not frame & (1 << 17 | 1 << 16 | 0b1111), f"0x{frame:08X} was believed"
            assert -20 <= outcome.value <= 500, f"0x{frame:08X} was believed"


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"device": "/dev/spidev0.0"}, "unknown option 'device'; the only one is 'devices'"),
        ({"devices": "/dev/spidev0.0"}, "devices is '/dev/spidev0.0'; give a list"),
        ({"devices": []}, "devices is []; give a list"),
        ({"devices": ["spidev0.0"]}, "every entry must be a full path"),
        ({"devices": ["/dev/spidev0.0", 1]}, "every entry must be a full path"),
    ],
)
def test_a_wrong_option_is_named(options: dict[str, object], sentence: str) -> None:
    with pytest.raises(BusError, match="max31855: ") as caught:
        open_bus(options, surroundings(FakeClock()))
    assert sentence in str(caught.value)


def python_as_on_a_pi(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = os.environ | AS_ON_A_PI | {"PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", program, *arguments]
    return subprocess.run(
        command, env=environment, capture_output=True, text=True, timeout=30, check=False
    )


@needs_gpiod
def test_the_driver_can_be_imported_on_a_pi_with_gpiod() -> None:
    outcome = python_as_on_a_pi("import adafruit_max31855; print(adafruit_max31855.MAX31855)")
    assert outcome.returncode == 0, outcome.stderr


def test_a_pi_without_gpiod_is_told_to_install_it() -> None:
    outcome = python_as_on_a_pi(
        "import sys\n"
        "sys.modules['gpiod'] = None\n"
        "from noonpot_hw.max31855 import open_bus\n"
        "from noonpot.errors import BusError\n"
        "try:\n"
        "    open_bus({}, None)\n"
        "except BusError as error:\n"
        "    print(error)\n"
    )
    assert "pip install gpiod" in outcome.stdout, outcome.stderr


READ_ONCE = """
import sys
from pathlib import Path
import Adafruit_PureIO.spi
from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from noonpot.ports import Surroundings
from noonpot_hw.max31855 import open_bus

bench = SpiBench(Path(sys.argv[1]))
Adafruit_PureIO.spi.ioctl = bench.ioctl
node = bench.node("spidev0.0", word(100.75))
bus = open_bus({"devices": [node]}, Surroundings(FakeClock(), None, None))
print(round(bus.read(node).value, 1), "board" in sys.modules)
"""


@needs_gpiod
def test_our_driver_never_imports_board(tmp_path: Path) -> None:
    outcome = python_as_on_a_pi(READ_ONCE, str(tmp_path))
    assert outcome.stdout == "100.7 False\n", outcome.stderr
