"""What the endurance suites share."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

MEMORY = Path("/dev/shm")  # noqa: S108  a folder with a name of its own is made there


@pytest.fixture
def scratch(tmp_path: Path) -> Iterator[Path]:
    """A folder for thousands of files that need no card under them; in memory, if that can be."""
    if not MEMORY.is_dir():
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=MEMORY, prefix="noonpot-") as folder:
        yield Path(folder)
