"""What holds for every test: chance can be repeated, the machine's speed decides nothing, and what
the person who runs the tests keeps in a cache is neither used nor touched.
"""

import os
from collections.abc import Generator

import pytest
from hypothesis import settings

settings.register_profile("noonpot", deadline=None, print_blob=True)
settings.load_profile("noonpot")


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Generator[None]:
    """All tests share one new cache, in all processes: a day of sun is computed once."""
    base = tmp_path_factory.getbasetemp()
    cache = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "cache"
    cache.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(cache))
        yield


@pytest.hookimpl(wrapper=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> Generator[None]:
    """Name the seed of all randomness at the end, where a quiet run shows it too."""
    yield
    seed = terminalreporter.config.getoption("randomly_seed", None)
    if seed is not None:
        terminalreporter.write_line(f"the same again: pytest --randomly-seed={seed}")
