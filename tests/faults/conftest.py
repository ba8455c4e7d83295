"""The figures of the fault suites: noted by each test, printed together at the end."""

from collections.abc import Callable, Generator

import pytest

from faults.extent import Tell

MARK = "fault figure"


@pytest.fixture
def figure(record_property: Callable[[str, object], None]) -> Tell:
    """Note what was measured: number of the row, what is promised, the figure, and its bar."""

    def tell(row: int, promise: str, measured: str, bar: str) -> None:
        record_property(MARK, f"row {row:>2}: {promise}: {measured} ({bar})")

    return tell


@pytest.hookimpl(wrapper=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> Generator[None]:
    """Print all figures in the order of their rows."""
    yield
    ended = [r for key in ("passed", "failed") for r in terminalreporter.getreports(key)]
    lines = {text for r in ended for name, text in r.user_properties if name == MARK}
    for line in sorted(lines):
        terminalreporter.write_line(line)
