"""The figures of the endurance suites: noted by each test, printed together at the end."""

import tempfile
from collections.abc import Callable, Generator, Iterator
from pathlib import Path

import pytest

from endurance.extent import Tell

MARK = "endurance figure"
MEMORY = Path("/dev/shm")  # noqa: S108  a folder with a name of its own is made there


@pytest.fixture
def figure(record_property: Callable[[str, object], None]) -> Tell:
    """Note what was measured: number of the row, what is promised, the figure, and its bar."""

    def tell(row: int, promise: str, measured: str, bar: str) -> None:
        record_property(MARK, f"row {row:>2}: {promise}: {measured} ({bar})")

    return tell


@pytest.fixture
def scratch(tmp_path: Path) -> Iterator[Path]:
    """A folder for thousands of files that need no card under them; in memory, if that can be."""
    if not MEMORY.is_dir():
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=MEMORY, prefix="noonpot-") as folder:
        yield Path(folder)


@pytest.hookimpl(wrapper=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> Generator[None]:
    """Print all figures in the order of their rows."""
    yield
    ended = [r for key in ("passed", "failed") for r in terminalreporter.getreports(key)]
    lines = {text for r in ended for name, text in r.user_properties if name == MARK}
    for line in sorted(lines):
        terminalreporter.write_line(line)
