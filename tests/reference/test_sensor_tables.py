"""Thermometers and thermocouples against the published tables, through the real drivers."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fakes import FakeClock
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from hw.sysfs import W1Tree, scratchpad, slave_text
from hw.sysfs import crc8 as crc8_of_the_fake
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot_hw import ds18b20, max31855
from noonpot_hw.frame import defect_of, junction_c, thermocouple_c
from noonpot_hw.scratchpad import crc8, sound

PROBE = "28-0316a2795fff"
MV_PER_K = 0.041276
"""What the converter assumes of type K. Source: MAX31855 data sheet, table 1, as the Adafruit
driver quotes it."""


def table(name: str) -> list[tuple[str, str]]:
    """The two columns of a file beside this one; its first lines name the source."""
    lines = (Path(__file__).parent / name).read_text().splitlines()
    assert lines[0].startswith("# source: ")
    rows = [line.split(",") for line in lines if not line.startswith("#")]
    return [(first, second) for first, second in rows]


TYPE_K = {float(celsius): float(mv) for celsius, mv in table("type_k.csv")}


@pytest.mark.parametrize("board_c", [20.0, 25.0, 50.0, 85.0])
@pytest.mark.parametrize("true_c", TYPE_K)
def test_the_driver_undoes_the_straight_line_of_the_chip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, true_c: float, board_c: float
) -> None:
    straight_c = (TYPE_K[true_c] - TYPE_K[board_c]) / MV_PER_K + board_c
    bench = SpiBench(tmp_path)
    bench.install(monkeypatch)
    node = bench.node("spidev0.0", word(straight_c, board_c))
    outcome = max31855.open_bus({"devices": [node]}, surroundings(FakeClock())).read(node)
    assert isinstance(outcome, Measured)
    # Half a step of the chip (0.125 K), the inverse polynomial (0.05 K), the table's last digit.
    assert outcome.value == pytest.approx(true_c, abs=0.2)


@pytest.mark.parametrize(
    ("true_c", "straight_c"), [(50, 49.78), (100, 100.01), (150, 149.48), (200, 197.94)]
)
def test_the_straight_line_alone_would_read_an_oven_low(true_c: float, straight_c: float) -> None:
    """Source: the two tables named above, in a separate calculation."""
    assert (TYPE_K[true_c] - TYPE_K[25]) / MV_PER_K + 25 == pytest.approx(straight_c, abs=0.015)


@pytest.mark.parametrize(("celsius", "code"), table("max31855_thermocouple_codes.csv"))
def test_thermocouple_codes_of_the_data_sheet(celsius: str, code: str) -> None:
    assert thermocouple_c(int(code, 2) << 18) == float(celsius)
    assert word(float(celsius), 0.0) >> 18 == int(code, 2)


@pytest.mark.parametrize(("celsius", "code"), table("max31855_junction_codes.csv"))
def test_junction_codes_of_the_data_sheet(celsius: str, code: str) -> None:
    assert junction_c(int(code, 2) << 4) == float(celsius)
    assert word(0.0, float(celsius)) >> 4 & 0xFFF == int(code, 2)


@pytest.mark.parametrize(
    ("frame", "kind"),
    [
        (0x00011681, FaultKind.OPEN_CIRCUIT),
        (0x00011682, FaultKind.SHORT_TO_GROUND),
        (0x00011684, FaultKind.SHORT_TO_SUPPLY),
    ],
)
def test_fault_bits_of_the_data_sheet(frame: int, kind: FaultKind) -> None:
    """Source: MAX31855 data sheet, table 2: bits 2, 1, 0 and their sum in bit 16."""
    defect = defect_of(frame)
    assert defect is not None
    assert defect.kind is kind
    assert junction_c(frame) == 22.5


def test_shorted_leads_read_like_the_board_and_show_no_fault() -> None:
    """A recorded frame of a bridged pair, from a public forum of a chip maker: nothing in it
    tells the fault, so no single reading can."""
    assert defect_of(0x01501790) is None
    assert (thermocouple_c(0x01501790), junction_c(0x01501790)) == (21.0, 23.5625)


@pytest.mark.parametrize("checksum", [crc8, crc8_of_the_fake])
def test_the_1_wire_checksum(checksum: Callable[[bytes], int]) -> None:
    """Sources: Maxim application note 27, its ROM example; the check value that catalogues of
    checksums give for CRC-8/MAXIM-DOW."""
    assert checksum(bytes.fromhex("02 1c b8 01 00 00 00")) == 0xA2
    assert checksum(b"123456789") == 0xA1


@pytest.mark.parametrize(("nine_bytes", "celsius"), table("ds18b20_scratchpads.csv"))
def test_known_scratchpads(tmp_path: Path, nine_bytes: str, celsius: str) -> None:
    tree = W1Tree(tmp_path)
    nine = bytes.fromhex(nine_bytes)
    tree.write(PROBE, slave_text(nine))
    outcome = ds18b20.open_bus({"base": str(tree.base)}, surroundings(FakeClock())).read(PROBE)
    assert isinstance(outcome, Measured)
    assert outcome.value == float(celsius)
    assert sound(slave_text(nine)) == nine


@pytest.mark.parametrize(("celsius", "code"), table("ds18b20_codes.csv"))
def test_temperature_codes_of_the_data_sheet(tmp_path: Path, celsius: str, code: str) -> None:
    nine = scratchpad(float(celsius))
    assert nine[1::-1].hex() == code
    tree = W1Tree(tmp_path)
    tree.write(PROBE, slave_text(nine))
    outcome = ds18b20.open_bus({"base": str(tree.base)}, surroundings(FakeClock())).read(PROBE)
    if float(celsius) < -20:
        assert outcome == Defect(FaultKind.OUT_OF_RANGE, f"{float(celsius):g} °C")
    else:
        assert isinstance(outcome, Measured)
        assert outcome.value == float(celsius)


def test_the_kernel_text_of_the_fake_is_that_of_the_kernel() -> None:
    """Source: Documentation/w1/slaves/w1_therm.rst of the Linux kernel, its form of two lines."""
    assert slave_text(scratchpad(27.5)) == (
        "b8 01 4b 46 7f ff 08 10 8a : crc=8a YES\nb8 01 4b 46 7f ff 08 10 8a t=27500\n"
    )
