"""The real Adafruit driver over our I2C bus, on a chip that answers with the bytes of its kind."""

import errno
import os
import random
import subprocess
import sys
from collections.abc import Mapping

import pytest

from fakes import FakeClock
from hw.i2c import Ads1115, I2cBench, code_of
from hw.surroundings import surroundings
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus
from noonpot_hw.ads1115 import INPUTS, open_bus

MV = 60.0
"""What the cell of these tests gives at 1000 W/m² [mV]."""


@pytest.fixture
def chip() -> Ads1115:
    return Ads1115()


@pytest.fixture(autouse=True)
def bench(chip: Ads1115, monkeypatch: pytest.MonkeyPatch) -> I2cBench:
    bench = I2cBench({0x48: chip})
    bench.install(monkeypatch)
    return bench


@pytest.fixture
def bus() -> Bus:
    return bus_with(mv_at_1000_wm2=MV)


def bus_with(**options: object) -> Bus:
    return open_bus(options, surroundings(FakeClock()))


def shine(chip: Ads1115, wm2: float) -> None:
    """Let the cell at A0 and A1 see so much sun."""
    chip.pins[:2] = [wm2 * MV / 1e6 + 0.01, 0.01]


def light(outcome: Measured | Defect) -> float:
    assert isinstance(outcome, Measured), outcome
    return outcome.value


def kind_of(outcome: Measured | Defect) -> FaultKind:
    assert isinstance(outcome, Defect), outcome
    assert outcome.detail
    return outcome.kind


# Source: SBAS444, ideal output code against input: 1 step is full scale / 2**15, the codes are
# two's complement, and -full scale is 0x8000.
@pytest.mark.parametrize(
    ("volts", "code"),
    [
        (0.0, 0x0000),
        (0.256 / 2**15, 0x0001),
        (-0.256 / 2**15, 0xFFFF),
        (0.256 * (2**15 - 1) / 2**15, 0x7FFF),
        (0.3, 0x7FFF),
        (-0.256, 0x8000),
        (-0.3, 0x8000),
    ],
)
def test_the_chip_of_these_tests_codes_voltages_as_the_data_sheet_says(
    volts: float, code: int
) -> None:
    assert code_of(volts, 0.256) == code


@pytest.mark.parametrize("wm2", [0.0, 4.0, 85.0, 350.0, 612.5, 1000.0, 1380.0, 1599.0])
def test_the_voltage_over_the_shunt_is_sunlight(chip: Ads1115, bus: Bus, wm2: float) -> None:
    shine(chip, wm2)
    # one step of the chip is 7.8 µV, 0.13 W/m² here
    assert light(bus.read("A0-A1")) == pytest.approx(wm2, abs=0.07)


def test_a_cell_is_known_by_its_voltage_or_by_current_and_shunt(chip: Ads1115) -> None:
    shine(chip, 700.0)
    bus = bus_with(ma_at_1000_wm2=120, shunt_ohm=0.5)
    assert light(bus.read("A0-A1")) == pytest.approx(700.0, abs=0.1)


@pytest.mark.parametrize(
    ("millivolts", "full_scale_v"),
    [
        (5, 0.256),
        (160, 0.256),
        (161, 0.512),
        (320, 0.512),
        (600, 1.024),
        (1000, 2.048),
        (2e3, 4.096),
    ],
)
def test_the_brightest_light_is_within_the_finest_range_that_holds_it(
    chip: Ads1115, millivolts: float, full_scale_v: float
) -> None:
    chip.pins[0] = 1.59 * millivolts / 1000
    bus = bus_with(mv_at_1000_wm2=millivolts)
    assert light(bus.read("A0-A1")) == pytest.approx(1590, abs=1)
    assert chip.full_scale_v == full_scale_v


@pytest.mark.parametrize("inputs", INPUTS)
def test_each_input_is_its_own(chip: Ads1115, inputs: str) -> None:
    chip.pins = [0.050, 0.020, 0.044, 0.005]
    expected = {
        "A0-A1": 500, "A0-A3": 750, "A1-A3": 250, "A2-A3": 650,
        "A0": 833.3, "A1": 333.3, "A2": 733.3, "A3": 83.3,
    }  # fmt: skip
    bus = bus_with(mv_at_1000_wm2=MV, inputs=[inputs])
    assert light(bus.read(inputs)) == pytest.approx(expected[inputs], abs=0.2)


def test_two_cells_on_one_chip_are_read_in_turn(chip: Ads1115) -> None:
    chip.pins = [0.050, 0.020, 0.044, 0.005]
    bus = bus_with(mv_at_1000_wm2=MV, inputs=["A0-A1", "A2-A3"])
    for _ in range(2):
        assert light(bus.read("A0-A1")) == pytest.approx(500, abs=0.2)
        assert light(bus.read("A2-A3")) == pytest.approx(650, abs=0.2)


def test_what_noise_makes_of_a_night_is_no_light(chip: Ads1115, bus: Bus) -> None:
    shine(chip, -4.0)
    assert bus.read("A0-A1") == Measured(0.0)


IMPOSSIBLE: Mapping[str, tuple[float, FaultKind]] = {
    "wired backwards at dawn": (-12.0, FaultKind.REVERSED),
    "wired backwards at noon": (-900.0, FaultKind.REVERSED),
    "backwards beyond full scale": (-9000.0, FaultKind.REVERSED),
    "brighter than any sun": (1620.0, FaultKind.OUT_OF_RANGE),
    "no shunt, so the cell's own 0.55 V": (9167.0, FaultKind.OUT_OF_RANGE),
}


@pytest.mark.parametrize(("wm2", "kind"), IMPOSSIBLE.values(), ids=IMPOSSIBLE)
def test_what_no_sun_can_do_has_a_name(
    chip: Ads1115, bus: Bus, wm2: float, kind: FaultKind
) -> None:
    shine(chip, wm2)
    assert kind_of(bus.read("A0-A1")) is kind


def test_an_input_at_its_limit_is_no_reading_even_where_the_number_would_do(
    chip: Ads1115,
) -> None:
    chip.pins[0] = 0.3
    bus = bus_with(mv_at_1000_wm2=160)  # full scale is exactly 1600 W/m²
    assert kind_of(bus.read("A0-A1")) is FaultKind.OUT_OF_RANGE


def test_a_chip_that_is_unplugged_is_a_value_and_comes_back(
    chip: Ads1115, bench: I2cBench, bus: Bus
) -> None:
    shine(chip, 500.0)
    light(bus.read("A0-A1"))
    bench.chips.clear()
    assert kind_of(bus.read("A0-A1")) is FaultKind.NOT_ANSWERING
    assert kind_of(bus.read("A0-A1")) is FaultKind.NOT_ANSWERING
    assert bus.scan() == []
    chip.lose_power()
    bench.chips[0x48] = chip
    assert light(bus.read("A0-A1")) == pytest.approx(500.0, abs=0.1)
    assert [(f.address, f.description) for f in bus.scan()] == [
        ("A0-A1", "irradiance cell on ADS1115 0x48")
    ]


def test_a_bus_that_is_not_there_is_a_value_and_may_appear(bench: I2cBench, bus: Bus) -> None:
    bench.present = False
    outcome = bus.read("A0-A1")
    assert kind_of(outcome) is FaultKind.NOT_ANSWERING
    assert "No such file" in str(outcome)
    bench.present = True
    assert light(bus.read("A0-A1")) == 0


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (errno.EREMOTEIO, FaultKind.NOT_ANSWERING),
        (errno.ENXIO, FaultKind.NOT_ANSWERING),
        (errno.ETIMEDOUT, FaultKind.NOT_ANSWERING),
        (errno.EBUSY, FaultKind.BUS_BUSY),
        (errno.EIO, FaultKind.DRIVER_ERROR),
    ],
)
def test_a_refusal_of_the_kernel_is_a_value_and_can_pass(
    bench: I2cBench, bus: Bus, error: int, kind: FaultKind
) -> None:
    light(bus.read("A0-A1"))
    bench.refusal = error
    assert bus.read("A0-A1") == Defect(kind, f"/dev/i2c-1 chip 0x48: {os.strerror(error)}")
    bench.refusal = 0
    light(bus.read("A0-A1"))


def test_a_conversion_that_never_ends_is_given_up(chip: Ads1115, bus: Bus) -> None:
    chip.looks = 10**9
    assert kind_of(bus.read("A0-A1")) is FaultKind.NOT_ANSWERING
    chip.looks = 3
    light(bus.read("A0-A1"))


def test_a_chip_that_lost_its_settings_while_it_measured_is_not_believed(
    chip: Ads1115, bus: Bus, monkeypatch: pytest.MonkeyPatch
) -> None:
    shine(chip, 500.0)
    light(bus.read("A0-A1"))
    chip.looks = 0
    monkeypatch.setattr(chip, "_convert", chip.lose_power)
    assert kind_of(bus.read("A0-A1")) is FaultKind.FRAME_ERROR


# A line held high would be -1 step, about no light: as good a value as any.
@pytest.mark.parametrize(("byte", "kind"), [
    (b"\xff", FaultKind.FRAME_ERROR), (b"\xa5", FaultKind.FRAME_ERROR),
    (b"\x00", FaultKind.NOT_ANSWERING),
])  # fmt: skip
def test_a_data_line_that_is_stuck_is_no_reading(
    chip: Ads1115, bus: Bus, byte: bytes, kind: FaultKind
) -> None:
    light(bus.read("A0-A1"))
    chip.stuck = byte
    assert kind_of(bus.read("A0-A1")) is kind
    chip.stuck = None
    light(bus.read("A0-A1"))


def test_any_conversion_whatever_is_light_that_can_be_or_a_named_fault(
    chip: Ads1115, bus: Bus
) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    kinds = set()
    for _ in range(500):
        shine(chip, chance.uniform(-5000, 5000))
        outcome = bus.read("A0-A1")
        if isinstance(outcome, Measured):
            assert 0 <= outcome.value <= 1600
        else:
            kinds.add(outcome.kind)
    assert kinds == {FaultKind.REVERSED, FaultKind.OUT_OF_RANGE}


def test_inputs_that_are_not_of_the_bus_are_not_read(bus: Bus) -> None:
    assert kind_of(bus.read("A2-A3")) is FaultKind.NOT_ANSWERING


def test_no_read_leaves_the_bus_open_once_it_is_closed(bench: I2cBench, bus: Bus) -> None:
    light(bus.read("A0-A1"))
    assert len(bench.opened) == 1
    bench.refusal = errno.EIO
    for _ in range(3):
        kind_of(bus.read("A0-A1"))
    assert len(bench.opened) == 0
    bench.refusal = 0
    light(bus.read("A0-A1"))
    bus.close()
    assert len(bench.opened) == 0


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"devise": "/dev/i2c-1"}, "option 'devise' is unknown; did you mean"),
        ({"device": "i2c-1"}, "device is 'i2c-1'; give a node like /dev/i2c-1"),
        ({"device": 1}, "device is 1; give a node"),
        ({"chip": "0x48"}, "chip is '0x48'; give its address, 0x48 to 0x4B, no quotes"),
        ({"chip": 0x4C}, "chip is 76; give its address"),
        ({"chip": True}, "chip is True; give its address"),
        ({"inputs": "A0-A1"}, "inputs is 'A0-A1'; give a list of A0-A1, "),
        ({"inputs": []}, "inputs is []; give a list"),
        ({"inputs": ["A1-A0"]}, "inputs is ['A1-A0']; give a list"),
        ({"inputs": [["A0"]]}, "inputs is [['A0']]; give a list"),
        ({}, "what does the cell give at 1000 W/m²?"),
        ({"ma_at_1000_wm2": 100}, "what does the cell give at 1000 W/m²?"),
        ({"mv_at_1000_wm2": 60, "shunt_ohm": 0.5}, "what does the cell give at 1000 W/m²?"),
        ({"mv_at_1000_wm2": "60"}, "mv_at_1000_wm2 is '60'; give a number"),
        ({"mv_at_1000_wm2": float("nan")}, "mv_at_1000_wm2 is nan; give a number"),
        ({"mv_at_1000_wm2": 10**400}, f"mv_at_1000_wm2 is 1{39 * '0'}; give a number"),
        ({"mv_at_1000_wm2": 4.9}, "gives 4.9 mV at 1000 W/m²; it must be 5 to 2000"),
        ({"ma_at_1000_wm2": 3000, "shunt_ohm": 1}, "gives 3000 mV at 1000 W/m²"),
    ],
)
def test_a_wrong_option_is_named(options: dict[str, object], sentence: str) -> None:
    with pytest.raises(BusError, match="ads1115: ") as caught:
        bus_with(**options)
    assert sentence in str(caught.value)


AS_ON_A_PI = {"BLINKA_FORCECHIP": "BCM2XXX", "BLINKA_FORCEBOARD": "RASPBERRY_PI_4B"}
READ_ONCE = """
import sys
from Adafruit_PureIO import smbus
from fakes import FakeClock
from hw.i2c import Ads1115, I2cBench
import noonpot_hw.ads1115

before = "adafruit_ads1x15" in sys.modules
bench = I2cBench({0x49: Ads1115([0.03, 0, 0, 0])})
smbus.open, smbus.ioctl = bench.open, bench.ioctl
bus = noonpot_hw.ads1115.open_bus({"chip": 0x49, "mv_at_1000_wm2": 60}, None)
print(round(bus.read("A0-A1").value), before, "board" in sys.modules)
"""


def python_as_on_a_pi(program: str) -> str:
    environment = os.environ | AS_ON_A_PI | {"PYTHONPATH": os.pathsep.join(sys.path)}
    outcome = subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    return outcome.stdout


def test_the_driver_is_imported_late_and_board_never() -> None:
    assert python_as_on_a_pi(READ_ONCE) == "500 False False\n"
