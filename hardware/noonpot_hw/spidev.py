"""A Linux spidev node, in the shape in which Adafruit drivers expect an SPI bus.

The kernel drives the chip select, so neither ``board`` nor any pin is needed, and the words that
passed can be looked at: a driver alone does not show all that was in them.
"""

import os
from pathlib import Path

_SPEED_HZ = 500_000
_MODE_0 = 0


class SpidevBus:
    """One chip at one chip select, opened for reading 32-bit words.

    Raises OSError when the node is missing, busy or not permitted.
    """

    def __init__(self, path: str) -> None:
        from Adafruit_PureIO.spi import SPI

        # Asked for by itself because PureIO's own complaint about a missing node has no errno.
        Path(path).stat()
        self._spi = SPI(path)
        self._words: list[int] = []
        try:
            # A node keeps the settings of whoever used it last.
            self._spi.mode = _MODE_0
            self._spi.bits_per_word = 8
            self._spi.max_speed_hz = _SPEED_HZ
        except OSError:
            self.close()
            raise

    def taken(self) -> tuple[int, ...]:
        """The words read since this was last asked, oldest first."""
        words, self._words = tuple(self._words), []
        return words

    def close(self) -> None:
        """Close the node; PureIO offers no way of its own."""
        os.close(self._spi.handle)

    def try_lock(self) -> bool:
        """Always granted: one thread reads the bus, and the kernel keeps transfers apart. The
        driver would spin for ever on a lock that a hung thread has taken along.
        """
        return True

    def unlock(self) -> None:
        """Nothing was locked."""

    def configure(self, baudrate: int = 0, polarity: int = 0, phase: int = 0) -> None:
        """Nothing to do: the node was set up when it was opened."""

    def readinto(self, buffer: bytearray) -> None:
        """Fill the buffer from the chip. Raises OSError when the transfer fails."""
        buffer[:] = self._spi.readbytes(len(buffer))
        self._words.append(int.from_bytes(buffer, "big"))
