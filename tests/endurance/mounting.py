"""Small cards of our own, mounted for a test: one in memory that gets full, one that turns
read-only while files are open. That takes root; who is not gets a reason to skip.
"""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

EXT4 = Path("/sys/fs/ext4")


class NoMountError(Exception):
    """Nothing can be mounted here."""


def done(*command: str | Path) -> str:
    """What a program says. Raises NoMountError when it fails."""
    words = [str(word) for word in command]
    try:
        ran = subprocess.run(words, capture_output=True, text=True, check=True, timeout=60)
    except (OSError, subprocess.SubprocessError) as error:
        why = getattr(error, "stderr", "") or str(error)
        raise NoMountError(f"no mount: {why.strip()}") from error
    return ran.stdout


@contextmanager
def memory_card(folder: Path, size_bytes: int) -> Iterator[None]:
    """A file system in memory. Raises NoMountError."""
    folder.mkdir()
    done("mount", "-t", "tmpfs", "-o", f"size={size_bytes}", "tmpfs", folder)
    try:
        yield
    finally:
        done("umount", "--lazy", folder)


class Card:
    """A file with an ext4 file system, mounted by way of a loop device."""

    def __init__(self, image: Path, folder: Path, size_bytes: int) -> None:
        """Raises NoMountError."""
        self._image, self._folder = image, folder
        with image.open("wb") as file:
            file.truncate(size_bytes)
        done("mkfs.ext4", "-q", "-F", image)
        folder.mkdir()

    def insert(self) -> None:
        """Mount it. Raises NoMountError."""
        done("mount", "-o", "loop,errors=remount-ro", self._image, self._folder)

    def wear_out(self) -> None:
        """Make the kernel believe that it met an error: it writes no more, whoever has files open.

        Raises NoMountError.
        """
        device = Path(done("losetup", "-j", self._image).partition(":")[0])
        trigger = EXT4 / device.name / "trigger_fs_error"
        try:
            trigger.write_text("1")
        except OSError as error:
            raise NoMountError(f"{trigger}: {error.strerror}") from error

    def repair(self) -> None:
        """Take it out, mend it, and put it back."""
        self.take_out()
        subprocess.run(["e2fsck", "-p", "-f", self._image], capture_output=True, check=False)
        self.insert()

    def take_out(self) -> None:
        """Unmount it."""
        done("umount", self._folder)


@contextmanager
def wearing_card(image: Path, folder: Path, size_bytes: int) -> Iterator[Card]:
    """A card that can wear out. Raises NoMountError."""
    card = Card(image, folder, size_bytes)
    card.insert()
    try:
        yield card
    finally:
        if os.path.ismount(folder):
            done("umount", "--lazy", folder)


def unmountable() -> str:
    """Why nothing can be mounted here, "" when it can be tried."""
    if os.geteuid() != 0:
        return "to mount takes root"
    missing = [name for name in ("mount", "umount") if shutil.which(name) is None]
    return f"{missing[0]} is missing" if missing else ""


def fill(file: Path) -> None:
    """Write into a file until the card is full."""
    with file.open("wb", buffering=0) as stream:
        size = 1 << 16
        while size:
            try:
                while stream.write(bytes(size)) == size:
                    pass
            except OSError:
                pass
            size //= 2
