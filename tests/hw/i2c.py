"""I2C buses that answer below Adafruit_PureIO: at open, read, write and ioctl, where the kernel
would, with an ADS1115 on them that keeps registers as the real one does.
"""

import ctypes
import errno
import os
from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest
from Adafruit_PureIO import smbus as pureio

# Sources: include/uapi/linux/i2c-dev.h and i2c.h of the Linux kernel.
_CHOOSE_CHIP = 0x0703
_MESSAGES = 0x0707
_READING = 0x0001

# All of the chip: Texas Instruments SBAS444, "Register Map".
_CONVERSION, _CONFIG, _LOW, _HIGH = range(4)
_START = 0x8000
_AS_POWERED_ON = {_CONVERSION: 0x0000, _CONFIG: 0x8583, _LOW: 0x8000, _HIGH: 0x7FFF}
_PAIRS = ((0, 1), (0, 3), (1, 3), (2, 3), (0, None), (1, None), (2, None), (3, None))
_RANGES_V = (6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256)


def code_of(volts: float, full_scale_v: float) -> int:
    """The 16 bits for a voltage: two's complement, and at the ends the last code there is."""
    steps = round(volts * 32768 / full_scale_v)
    return max(-32768, min(32767, steps)) & 0xFFFF


@dataclass
class Ads1115:
    """The chip. ``pins`` are the voltages at A0 to A3; a conversion takes ``looks`` at it."""

    pins: list[float] = field(default_factory=lambda: [0.0] * 4)
    looks: int = 3
    registers: dict[int, int] = field(default_factory=lambda: dict(_AS_POWERED_ON))
    busy: int = 0
    stuck: bytes | None = None
    _pointer: int = 0

    def lose_power(self) -> None:
        self.registers = dict(_AS_POWERED_ON)
        self.busy = 0

    def write(self, data: bytes) -> None:
        """The first byte says which register, two more are what goes into it."""
        if data:
            self._pointer = data[0] & 0b11
        if len(data) == 3:
            self.registers[self._pointer] = int.from_bytes(data[1:], "big")
            if self._pointer == _CONFIG and self.registers[_CONFIG] & _START:
                self._convert()

    def read(self, count: int) -> bytes:
        """The register, high byte first; of the settings, bit 15 says that all is done."""
        if self.stuck is not None:
            return (self.stuck * count)[:count]
        word = self.registers[self._pointer]
        if self._pointer == _CONFIG:
            word = word & ~_START if self.busy else word | _START
            self.busy = max(0, self.busy - 1)
        return word.to_bytes(2, "big")[:count]

    def _convert(self) -> None:
        self.busy = self.looks
        config = self.registers[_CONFIG]
        plus, minus = _PAIRS[config >> 12 & 0b111]
        volts = self.pins[plus] - (0.0 if minus is None else self.pins[minus])
        self.registers[_CONVERSION] = code_of(volts, _RANGES_V[config >> 9 & 0b111])

    @property
    def full_scale_v(self) -> float:
        return _RANGES_V[self.registers[_CONFIG] >> 9 & 0b111]


class _Node:
    """An opened bus: what PureIO needs of a file."""

    def __init__(self, bench: "I2cBench", handle: int) -> None:
        self._bench = bench
        self._handle = handle
        self.address = 0

    def fileno(self) -> int:
        return self._handle

    def write(self, data: bytes) -> int:
        self._bench.answering(self.address).write(bytes(data))
        return len(data)

    def read(self, count: int) -> bytes:
        return self._bench.answering(self.address).read(count)

    def close(self) -> None:
        self._bench.opened.pop(self._handle, None)


class I2cBench:
    """The bus /dev/i2c-1 with some chips by their addresses; take ``present`` away to lose it."""

    def __init__(self, chips: Mapping[int, Ads1115]) -> None:
        self.chips = dict(chips)
        self.present = True
        self.refusal = 0
        self.opened: dict[int, _Node] = {}

    def install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Stand in for the kernel under Adafruit_PureIO."""
        monkeypatch.setattr(pureio, "open", self.open, raising=False)
        monkeypatch.setattr(pureio, "ioctl", self.ioctl)

    def open(self, path: str, mode: str, buffering: int) -> _Node:
        assert (mode, buffering) == ("r+b", 0)
        if path != "/dev/i2c-1" or not self.present:
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT), path)
        handle = 1000 + len(self.opened)
        self.opened[handle] = _Node(self, handle)
        return self.opened[handle]

    def answering(self, address: int) -> Ads1115:
        """The chip at this address; without one nobody acknowledges the address."""
        if error := self.refusal or (0 if address in self.chips else errno.EREMOTEIO):
            raise OSError(error, os.strerror(error))
        return self.chips[address]

    def ioctl(self, handle: int, operation: int, argument: object) -> int:
        """What the kernel does for the calls PureIO makes."""
        if operation == _CHOOSE_CHIP:
            assert isinstance(argument, int)
            self.opened[handle].address = argument
            return 0
        assert operation == _MESSAGES
        assert isinstance(argument, pureio.i2c_rdwr_ioctl_data)
        for message in argument.msgs[: argument.nmsgs]:
            chip = self.answering(message.addr)
            if message.flags & _READING:
                ctypes.memmove(message.buf, chip.read(message.len), message.len)
            else:
                chip.write(ctypes.string_at(message.buf, message.len))
        return 0
