"""What holds for every test: chance can be repeated, figures are printed at the end, the machine's
speed decides nothing, and what the person who runs the tests keeps in a cache is neither used nor
touched.
"""

import gc
import os
from collections.abc import Callable, Generator
from pathlib import Path

import pytest
from _pytest.doctest import DoctestModule
from hypothesis import settings

from faults.extent import Tell

settings.register_profile("noonpot", deadline=None, print_blob=True)
settings.load_profile("noonpot")

TESTS = Path(__file__).parent
MARK = "figure"
LONGEST = (
    "e2e/",  # first: it measures how soon an alert is told, beside which no browser should start
    "bench/",
    "engine/test_replayer.py",
    "test_readme.py",
    "cli/test_rate.py",
    "web/test_schemathesis.py",
    "web/test_demo.py",
    "browser/",
    "faults/",
    "cli/test_commands.py",
    "web/test_ratings.py",
    "app/test_reporting.py",
)
"""Where the tests stand that take longest, or wait for other programs."""


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """All that is collected stays to the end. To look again and again for what may go took more
    than a third of the time of collecting.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Examples in docstrings stand in the program: nobody looks for them among the tests, and what
    these start as programs of their own is not loaded.
    """
    found = yield
    return [one for one in found if not isinstance(one, DoctestModule)]


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Where several workers share the tests, each begins with its part of the longest, so that in
    the end none has a long one to do while the others are idle.

    Each worker gets one stretch of the list at first. Chance has ordered the list before, and
    orders all within the long places and within the rest.
    """
    workers = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if workers == 1:
        return
    places = [f"{TESTS}/{name}" for name in LONGEST]
    parts: list[list[tuple[int, pytest.Item]]] = [[] for _ in range(workers)]
    rest: list[pytest.Item] = []
    for item in items:
        at = next((n for n, place in enumerate(places) if str(item.path).startswith(place)), None)
        if at is None:
            rest.append(item)
        else:
            parts[at % workers].append((at, item))
    share = len(items) // workers
    items.clear()
    for part in parts:
        items += [item for _, item in sorted(part, key=lambda each: each[0])]
        room = max(0, share - len(part))
        items += rest[:room]
        del rest[:room]
    items += rest


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
    """Print all figures in the order of their rows, and name the seed of all randomness, where a
    quiet run shows it too.
    """
    yield
    ended = [r for key in ("passed", "failed") for r in terminalreporter.getreports(key)]
    figures = {text for r in ended for name, text in r.user_properties if name == MARK}
    for line in sorted(figures):
        terminalreporter.write_line(line)
    seed = terminalreporter.config.getoption("randomly_seed", None)
    if seed is not None:
        terminalreporter.write_line(f"the same again: pytest --randomly-seed={seed}")


@pytest.fixture
def figure(record_property: Callable[[str, object], None]) -> Tell:
    """Note what was measured: number of the row, what is promised, the figure, and its bar."""

    def tell(row: int, promise: str, measured: str, bar: str) -> None:
        record_property(MARK, f"row {row:>2}: {promise}: {measured} ({bar})")

    return tell
