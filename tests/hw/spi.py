"""SPI devices that answer below Adafruit_PureIO: at the ioctl, where the kernel would.

A device is a plain file that holds the words it will send, four bytes each; the last one is sent
for ever. Another process may feed it by writing one word over the other.
"""

import ctypes
import os
import struct
from pathlib import Path

import pytest
from Adafruit_PureIO import spi as pureio

# Source: include/uapi/linux/spi/spidev.h of the Linux kernel.
_WRITE_MODE = 0x40016B01
_ONE_MESSAGE = 0x40206B00
_TRANSFER = "QQIIHBBBBH"


def word(thermocouple_c: float, junction_c: float = 25.0, causes: int = 0) -> int:
    """The frame of a MAX31855; ``causes`` are the bits open 1, ground 2, supply 4.
    Source: MAX31855 data sheet, table 2."""
    bits = (round(thermocouple_c * 4) & 0x3FFF) << 18 | (round(junction_c * 16) & 0xFFF) << 4
    return bits | (1 << 16 if causes else 0) | causes


class SpiBench:
    """Spidev nodes in a directory; install it once, then any number of devices may be made."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._transfers: dict[str, int] = {}
        self._refusals: dict[str, int] = {}
        self.modes: dict[str, int] = {}

    def install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Stand in for the kernel under Adafruit_PureIO."""
        monkeypatch.setattr(pureio, "ioctl", self.ioctl)

    def node(self, name: str, *words: int) -> str:
        """Make a node that sends these words; returns its path."""
        path = self._root / name
        path.touch()
        self.send(str(path), *words)
        return str(path)

    def send(self, path: str, *words: int) -> None:
        """What the node sends from now on."""
        # Written over in place, because whoever has the node open keeps it open.
        with Path(path).open("r+b") as node:
            node.write(b"".join(each.to_bytes(4, "big") for each in words))
            node.truncate()
        self._transfers[path] = 0

    def refuse(self, path: str, error: int) -> None:
        """Let every call on the node fail with this errno."""
        self._refusals[path] = error

    def ioctl(self, handle: int, operation: int, argument: bytes) -> int:
        """What the kernel does for the calls PureIO makes."""
        path = str(Path(f"/proc/self/fd/{handle}").readlink())
        if error := self._refusals.get(path):
            raise OSError(error, os.strerror(error))
        if operation == _WRITE_MODE:
            self.modes[path] = argument[0]
        if operation == _ONE_MESSAGE:
            _, receive, length, *_ = struct.unpack(_TRANSFER, argument)
            ctypes.memmove(receive, self._next_word(path, handle), length)
        return 0

    def _next_word(self, path: str, handle: int) -> bytes:
        passed = self._transfers.get(path, 0)
        self._transfers[path] = passed + 1
        last = os.fstat(handle).st_size - 4
        return os.pread(handle, 4, min(passed * 4, last))
