"""Sunlight on a level reference cell over a shunt, on an ADS1115 read by the Adafruit driver.

The driver alone believes too much: it takes whatever the line says for a conversion, and it cannot
know that the chip lost its settings or that somebody else set it. So the settings that the chip
reports beside each conversion are compared with those that it was given.
"""

import errno
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from noonpot.core.cook import Event
from noonpot.core.names import meant
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Found, Surroundings
from noonpot_hw.i2cdev import I2cdevBus

if TYPE_CHECKING:
    from adafruit_ads1x15 import AnalogIn

BRIGHTNESS = ("mv_at_1000_wm2", "ma_at_1000_wm2", "shunt_ohm")
OPTIONS = ("device", "chip", "inputs", *BRIGHTNESS)
DEFAULT_DEVICE = "/dev/i2c-1"
CHIPS = range(0x48, 0x4C)
INPUTS: Mapping[str, tuple[int, int | None]] = {
    "A0-A1": (0, 1),
    "A0-A3": (0, 3),
    "A1-A3": (1, 3),
    "A2-A3": (2, 3),
    "A0": (0, None),
    "A1": (1, None),
    "A2": (2, None),
    "A3": (3, None),
}
"""Pairs and single inputs that the chip can measure. Source: ADS1115 data sheet, TI SBAS444."""

BRIGHTEST_WM2 = 1600.0
"""Edges of clouds add some hundreds to a clear noon of about 1100 (common practice, no source)."""
DARKEST_WM2 = -10.0
"""What offset and noise can make of darkness: 3 steps of the chip (SBAS444) at the least voltage
that is allowed below are 5 W/m²."""
LEAST_MV, MOST_MV = 5.0, 2000.0
MOST_GIVEN = 1e6  # in the units of the options; more is no cell, and no float, maybe
GAINS = (16, 8, 4, 2, 1)
FULL_SCALE_V = 4.096
HIGHEST_CODE = 0x7FFF
"""Full scale at gain 1, and the code of all that is above a full scale. Source: SBAS444."""

# A chip that does not answer: EREMOTEIO from the Pi's controller, ENXIO from others.
_KIND_OF_ERRNO = {
    errno.EBUSY: FaultKind.BUS_BUSY,
    errno.ENOENT: FaultKind.NOT_ANSWERING,
    errno.ENODEV: FaultKind.NOT_ANSWERING,
    errno.ENXIO: FaultKind.NOT_ANSWERING,
    errno.EREMOTEIO: FaultKind.NOT_ANSWERING,
    errno.ETIMEDOUT: FaultKind.NOT_ANSWERING,
}


@dataclass(frozen=True, slots=True)
class Wiring:
    """Where the chip is, which of its inputs have cells, and what a cell gives at 1000 W/m² [V]."""

    device: str
    chip: int
    inputs: tuple[str, ...]
    volts_at_1000: float

    @property
    def gain(self) -> int:
        """The largest at which the brightest light is still within the chip's full scale."""
        most = self.volts_at_1000 * BRIGHTEST_WM2 / 1000
        return next(gain for gain in GAINS if FULL_SCALE_V / gain >= most)


@dataclass(frozen=True, slots=True)
class _Chip:
    """The opened chip, with the driver's view of each of its cells."""

    bus: I2cdevBus
    cells: "Mapping[str, AnalogIn]"

    def measure(self, inputs: str, volts_at_1000: float) -> Measured | Defect:
        """One conversion, in single-shot mode: settings written, read until done, then its code."""
        self.bus.taken()
        cell = self.cells[inputs]
        code = cell.value
        asked, *_, answered, _conversion = self.bus.taken()
        if asked.written[1:] != answered.read:
            told = f"settings {answered.read.hex()} are not the {asked.written[1:].hex()} asked for"
            return Defect(FaultKind.FRAME_ERROR, told)
        return _judged(code, cell.convert_to_voltage(code), volts_at_1000)


class Ads1115Bus:
    """One chip with one or more cells of the same kind; their inputs are the addresses."""

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        self._chip: _Chip | None = None

    def scan(self) -> Sequence[Found]:
        """The inputs, if the chip answers. Whether cells are wired there, only a reading shows."""
        self.close()
        try:
            self._chip = _open(self._wiring)
        except OSError:
            return []
        told = f"irradiance cell on ADS1115 {self._wiring.chip:#x}"
        return [Found(inputs, told) for inputs in self._wiring.inputs]

    def read(self, address: str) -> Measured | Defect:
        """One measurement of the cell at these inputs [W/m²]."""
        wiring = self._wiring
        if address not in wiring.inputs:
            known = ", ".join(wiring.inputs)
            return Defect(FaultKind.NOT_ANSWERING, f"{address} is none of the inputs {known}")
        try:
            if self._chip is None:
                self._chip = _open(wiring)
            return self._chip.measure(address, wiring.volts_at_1000)
        except OSError as error:
            # Opened anew at the next read: the chip may have lost its power.
            self.close()
            kind = _KIND_OF_ERRNO.get(error.errno or 0, FaultKind.DRIVER_ERROR)
            where = f"{wiring.device} chip {wiring.chip:#x}"
            return Defect(kind, f"{where}: {error.strerror or error}")

    def notice(self, event: Event) -> None:
        """Wires do not care what happens in the garden."""

    def close(self) -> None:
        """Close the node."""
        if self._chip is not None:
            self._chip.bus.close()
            self._chip = None


def open_bus(options: Mapping[str, object], _surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "ads1115"``.

    Options: ``device``, the bus's node (it may be missing; each read then says so); ``chip``, its
    address; ``inputs``, where cells are wired; and what a cell gives at 1000 W/m², as
    ``mv_at_1000_wm2`` over its shunt, or as ``ma_at_1000_wm2`` through a shunt of ``shunt_ohm``.
    Raises BusError for a wrong option.
    """
    for key in options:
        if key not in OPTIONS:
            raise BusError(f"ads1115: option {key!r} is unknown; {meant(key, OPTIONS)}")
    device = options.get("device", DEFAULT_DEVICE)
    if not isinstance(device, str) or not re.fullmatch(r"/dev/i2c-\d+", device):
        raise BusError(f"ads1115: device is {device!r}; give a node like {DEFAULT_DEVICE}")
    chip = options.get("chip", CHIPS[0])
    if isinstance(chip, bool) or not isinstance(chip, int) or chip not in CHIPS:
        raise BusError(f"ads1115: chip is {chip!r}; give its address, 0x48 to 0x4B, no quotes")
    inputs = options.get("inputs", ["A0-A1"])
    if not isinstance(inputs, list) or not inputs or any(i not in list(INPUTS) for i in inputs):
        raise BusError(f"ads1115: inputs is {inputs!r}; give a list of {', '.join(INPUTS)}")
    return Ads1115Bus(Wiring(device, chip, tuple(inputs), _volts(options)))


def _volts(options: Mapping[str, object]) -> float:
    """What a cell gives at 1000 W/m² [V]."""
    given = {key: _number(key, options[key]) for key in BRIGHTNESS if key in options}
    if given.keys() == {"mv_at_1000_wm2"}:
        millivolts = given["mv_at_1000_wm2"]
    elif given.keys() == {"ma_at_1000_wm2", "shunt_ohm"}:
        millivolts = given["ma_at_1000_wm2"] * given["shunt_ohm"]
    else:
        raise BusError(
            "ads1115: what does the cell give at 1000 W/m²? Set mv_at_1000_wm2, or instead both "
            "ma_at_1000_wm2 and shunt_ohm; they are on the cell's label and on the resistor"
        )
    if not LEAST_MV <= millivolts <= MOST_MV:
        raise BusError(
            f"ads1115: the cell gives {millivolts:g} mV at 1000 W/m²; it must be {LEAST_MV:g} to "
            f"{MOST_MV:g}, choose another shunt"
        )
    return millivolts / 1000


def _number(key: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BusError(f"ads1115: {key} is {value!r}; give a number")
    if not abs(value) <= MOST_GIVEN:  # true for a NaN, too
        raise BusError(f"ads1115: {key} is {str(value)[:40]}; give a number that is on a label")
    return float(value)


def _open(wiring: Wiring) -> _Chip:
    """The chip, set up. Raises OSError when it, or its bus, does not answer."""
    from adafruit_ads1x15 import ADS1115, AnalogIn

    bus = I2cdevBus(wiring.device)
    try:
        chip = ADS1115(bus, gain=wiring.gain, address=wiring.chip)
    except ValueError as error:  # the driver's word for a chip that does not answer
        bus.close()
        raise OSError(errno.ENXIO, str(error)) from error
    except OSError:
        bus.close()
        raise
    return _Chip(bus, {inputs: AnalogIn(chip, *INPUTS[inputs]) for inputs in wiring.inputs})


def _judged(code: int, volts: float, volts_at_1000: float) -> Measured | Defect:
    """The light, unless no sun can be meant."""
    light_wm2 = 1000 * volts / volts_at_1000
    detail = f"{1000 * volts:.2f} mV would be {light_wm2:.0f} W/m²"
    if light_wm2 < DARKEST_WM2:
        return Defect(FaultKind.REVERSED, detail)
    if code == HIGHEST_CODE or light_wm2 > BRIGHTEST_WM2:
        return Defect(FaultKind.OUT_OF_RANGE, f"{detail}; is the shunt open?")
    return Measured(max(0.0, light_wm2))
