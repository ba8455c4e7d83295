"""Type K thermocouples on MAX31855 converters, read by the Adafruit driver over spidev.

The driver alone believes too much: a bus that is dead reads a clean 0 °C, and a word shifted by
one bit reads as half or double the temperature. So every word it saw is looked at as well.
"""

import errno
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from noonpot.core.cook import Event
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Clock, Found, Surroundings
from noonpot_hw.frame import defect_of, junction_c, thermocouple_c
from noonpot_hw.spidev import SpidevBus

DEFAULT_DEVICES = ("/dev/spidev0.0",)
LOWEST_C, HIGHEST_C = -20.0, 500.0
HOTTEST_BOARD_C = 85.0
"""Above this the converter's cold-junction compensation is off. Source: MAX31855 data sheet."""
REVERSED_BELOW_BOARD_K = 20.0
BOARD_JUMP_K = 2.0
BOARD_MEMORY_S = 10.0

_KIND_OF_ERRNO = {
    errno.EBUSY: FaultKind.BUS_BUSY,
    errno.ENOENT: FaultKind.NOT_ANSWERING,
    errno.ENODEV: FaultKind.NOT_ANSWERING,
    errno.ENXIO: FaultKind.NOT_ANSWERING,
}


class _Thermocouple(Protocol):
    """The part of the Adafruit driver that is used."""

    @property
    def temperature_NIST(self) -> float:  # noqa: N802 - the driver's name for it
        """°C by the ITS-90 reference functions; RuntimeError for a fault the chip reports."""


@dataclass(slots=True)
class _Chip:
    """One opened converter, and when it last had which temperature itself."""

    spidev: SpidevBus
    driver: _Thermocouple
    junction_c: float | None = None
    seen_s: float = 0.0

    def measure(self, now_s: float) -> Measured | Defect:
        """One measurement: the driver reads one word for the thermocouple, one for the board."""
        value: float | None = None
        complaint = ""
        try:
            value = self.driver.temperature_NIST
        except RuntimeError as error:
            complaint = str(error)
        words = self.spidev.taken()
        for word in words:
            if defect := defect_of(word):
                return defect
        return self._board_defect(words, now_s) or _judged(value, complaint, words[0])

    def _board_defect(self, words: Sequence[int], now_s: float) -> Defect | None:
        junctions = [junction_c(word) for word in words]
        if self.junction_c is not None and now_s - self.seen_s <= BOARD_MEMORY_S:
            junctions.insert(0, self.junction_c)
        self.junction_c, self.seen_s = junctions[-1], now_s
        if max(junctions) - min(junctions) > BOARD_JUMP_K:
            board = " to ".join(f"{junction:g}" for junction in junctions)
            return Defect(FaultKind.FRAME_ERROR, f"board temperature leapt: {board} °C")
        if junctions[-1] > HOTTEST_BOARD_C:
            return Defect(FaultKind.BOARD_TOO_HOT, f"board at {junctions[-1]:g} °C")
        return None


class Max31855Bus:
    """Some converters, each at its own spidev node; the node's path is the address."""

    def __init__(self, devices: Sequence[str], clock: Clock) -> None:
        self._devices = tuple(devices)
        self._clock = clock
        self._chips: dict[str, _Chip] = {}

    def scan(self) -> Sequence[Found]:
        """The nodes that exist. Whether a board is wired to one, only a reading shows."""
        return [
            Found(device, "MAX31855 thermocouple converter")
            for device in self._devices
            if Path(device).exists()
        ]

    def read(self, address: str) -> Measured | Defect:
        """One measurement [°C] of the converter at this node."""
        if address not in self._devices:
            known = ", ".join(self._devices)
            return Defect(FaultKind.NOT_ANSWERING, f"{address} is none of the devices {known}")
        try:
            if address not in self._chips:
                self._chips[address] = _open(address)
            return self._chips[address].measure(self._clock.moment().mono_s)
        except OSError as error:
            # Opened anew at the next read: the node may have been replaced.
            if chip := self._chips.pop(address, None):
                chip.spidev.close()
            kind = _KIND_OF_ERRNO.get(error.errno or 0, FaultKind.DRIVER_ERROR)
            return Defect(kind, f"{address}: {error.strerror or error}")

    def notice(self, event: Event) -> None:
        """Wires do not care what happens in the garden."""

    def close(self) -> None:
        """Close all nodes."""
        while self._chips:
            self._chips.popitem()[1].spidev.close()


def open_bus(options: Mapping[str, object], surroundings: Surroundings) -> Bus:
    """The bus behind a ``[[bus]]`` section with ``driver = "max31855"``.

    Option: ``devices``, the spidev nodes in a list. Whether they exist is seen at each read.
    Raises BusError for a wrong option, or when the Adafruit driver cannot be loaded.
    """
    if unknown := sorted(options.keys() - {"devices"}):
        raise BusError(f"max31855: unknown option {unknown[0]!r}; the only one is 'devices'")
    devices = options.get("devices", DEFAULT_DEVICES)
    if not isinstance(devices, list | tuple) or not devices:
        raise BusError(f'max31855: devices is {devices!r}; give a list as ["/dev/spidev0.0"]')
    paths = [device for device in devices if isinstance(device, str) and device.startswith("/")]
    if len(paths) < len(devices):
        raise BusError(f"max31855: devices holds {devices!r}; every entry must be a full path")
    _driver_class()
    return Max31855Bus(paths, surroundings.clock)


def _open(path: str) -> _Chip:
    spidev = SpidevBus(path)
    return _Chip(spidev, _driver_class()(spidev, None))


def _driver_class() -> Callable[[SpidevBus, None], _Thermocouple]:
    try:
        from adafruit_max31855 import MAX31855
    except (ImportError, RuntimeError) as error:
        # On a Pi its import, for type hints only, fails without gpiod.
        raise BusError(f"max31855: driver cannot be loaded ({error}); pip install gpiod") from error
    driver_class: Callable[[SpidevBus, None], _Thermocouple] = MAX31855
    return driver_class


def _judged(value: float | None, complaint: str, word: int) -> Measured | Defect:
    """The driver's value, unless it cannot be a cooker's. ``word`` is the one it came from."""
    raw, board = thermocouple_c(word), junction_c(word)
    if (value is None or value < LOWEST_C) and raw < board - REVERSED_BELOW_BOARD_K:
        return Defect(FaultKind.REVERSED, f"{raw:g} °C at a board of {board:g} °C")
    if value is None:
        return Defect(FaultKind.OUT_OF_RANGE, complaint)
    if not LOWEST_C <= value <= HIGHEST_C:
        return Defect(FaultKind.OUT_OF_RANGE, f"{value:.1f} °C")
    return Measured(value, board_c=board)
