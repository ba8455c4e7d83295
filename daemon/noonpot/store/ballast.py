"""Some room kept beside the data file, to be given up when the card is full at a start.

SQLite needs a little room to open a file at all. Without it the watch would not begin on a full
card, though it needs none to go on: what cannot be written is kept in memory, and a person is told.
"""

import os
from contextlib import suppress
from pathlib import Path

BALLAST_BYTES = 4_000_000
"""What eight probes read every 2 s write in most of a day: 4.4 MB, docs/measurements.md."""
LEAST_FREE = 4
"""Laid only where so many times its size is free: else it would itself fill the card."""


def ballast_of(path: Path) -> Path:
    """The file that takes the room."""
    return path.with_name(f"{path.name}.ballast")


def lay(path: Path) -> None:
    """Keep some room for the next start; none is kept on a card that has little of it."""
    ballast = ballast_of(path)
    with suppress(OSError):  # it is a help, no more
        if ballast.exists() and ballast.stat().st_blocks * 512 >= BALLAST_BYTES:
            return
        card = os.statvfs(path.parent)
        if card.f_bavail * card.f_frsize < LEAST_FREE * BALLAST_BYTES:
            return
        with ballast.open("wb") as file:
            os.posix_fallocate(file.fileno(), 0, BALLAST_BYTES)


def drop(path: Path) -> bool:
    """Give the room up; False when none was kept."""
    try:
        ballast_of(path).unlink()
    except OSError:
        return False
    return True
