"""What holds for every test: chance can be repeated, and the machine's speed decides nothing."""

from collections.abc import Generator

import pytest
from hypothesis import settings

settings.register_profile("noonpot", deadline=None, print_blob=True)
settings.load_profile("noonpot")


@pytest.hookimpl(wrapper=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> Generator[None]:
    """Name the seed of all randomness at the end, where a quiet run shows it too."""
    yield
    seed = terminalreporter.config.getoption("randomly_seed", None)
    if seed is not None:
        terminalreporter.write_line(f"the same again: pytest --randomly-seed={seed}")
