"""Chromium for the tests of the page. It is a fixture of a module, not of the session: while the
driver of Chromium is at work, no other test of the process could use an event loop.
"""

from collections.abc import Generator
from contextlib import ExitStack
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from browser import axe
from browser.station import Station
from browser.viewer import DEADLINE_MS, Visit, launched, viewing

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def chromium() -> Generator[Browser]:
    with sync_playwright() as playwright:
        browser = launched(playwright)
        expect.set_options(timeout=DEADLINE_MS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Generator[Station]:
    """One station for all tests, since it takes seconds to start; it remembers two cooks."""
    station = Station(tmp_path_factory.mktemp("orchard"), rate=5)
    station.remember(2, "box", "bread")
    station.remember(1, "box", "rice")
    with station:
        yield station


@pytest.fixture
def station(founded: Station) -> Station:
    founded.wake()
    founded.rest()
    return founded


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> None:
    """Where other tests follow, the station sleeps: at five times the usual pace, it would cost
    them a share of the processor to the end of the session.
    """
    station = getattr(item, "funcargs", {}).get("station")
    if isinstance(station, Station) and (nextitem is None or nextitem.path.parent != HERE):
        station.end()


@pytest.fixture(scope="session")
def checker() -> str:
    return axe.script()


@pytest.fixture
def visit(chromium: Browser) -> Generator[Visit]:
    """Opens windows, each a person of its own; all are looked through at the end of the test."""
    with ExitStack() as windows:
        yield lambda address, screen: windows.enter_context(viewing(chromium, address, screen))
