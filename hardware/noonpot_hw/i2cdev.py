"""A Linux i2c-dev node, in the shape in which Adafruit drivers expect an I2C bus.

Neither ``board`` nor any pin is needed. What passed can be looked at, and a chip that never says
"done" ends in an error: the drivers wait for that without a limit.
"""

import errno
import os
from typing import NamedTuple

PREFIX = "/dev/i2c-"

# A conversion takes 8 ms and a look at the chip 0.1 ms or more, so it needs less than a hundred.
MOST_TRANSFERS = 1000


class Transfer(NamedTuple):
    """What the chip was sent, and what it answered."""

    written: bytes
    read: bytes


class I2cdevBus:
    """The chips on one bus, through PureIO. ``node`` is the bus's path, ``/dev/i2c-1`` say.

    Raises OSError when the node is missing or not permitted; so does every transfer that fails.
    """

    def __init__(self, node: str) -> None:
        from Adafruit_PureIO.smbus import SMBus

        self._bus = SMBus(node.removeprefix(PREFIX))
        self._passed: list[Transfer] = []

    def taken(self) -> tuple[Transfer, ...]:
        """The transfers since this was last asked, oldest first."""
        passed, self._passed = tuple(self._passed), []
        return passed

    def close(self) -> None:
        """Close the node."""
        self._bus.close()

    def try_lock(self) -> bool:
        """Always granted: one thread reads the bus, and the kernel keeps transfers apart."""
        return True

    def unlock(self) -> None:
        """Nothing was locked."""

    def writeto(
        self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None
    ) -> None:
        """Send a part of the buffer."""
        written = bytes(buffer[start:end])
        self._bus.write_bytes(address, written)
        self._keep(written, b"")

    def readfrom_into(
        self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None
    ) -> None:
        """Fill a part of the buffer."""
        read = self._bus.read_bytes(address, len(buffer[start:end]))
        buffer[start:end] = read
        self._keep(b"", read)

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytearray,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None:
        """Send a part of one buffer, then fill a part of the other, with nothing in between."""
        written = bytes(out_buffer[out_start:out_end])
        wanted = len(in_buffer[in_start:in_end])
        read = bytes(self._bus.read_i2c_block_data(address, written, wanted))
        in_buffer[in_start:in_end] = read
        self._keep(written, read)

    def _keep(self, written: bytes, read: bytes) -> None:
        self._passed.append(Transfer(written, read))
        if len(self._passed) > MOST_TRANSFERS:
            raise OSError(errno.ETIMEDOUT, os.strerror(errno.ETIMEDOUT))
