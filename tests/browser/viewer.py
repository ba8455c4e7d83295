"""A person at the page: a window of Chromium in which nothing may go wrong unnoticed."""

import re
import shutil
from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from playwright.sync_api import (
    Browser,
    ConsoleMessage,
    Locator,
    Page,
    Playwright,
    Request,
    Response,
    ViewportSize,
)

DEADLINE_MS = 20_000
LOOK_MS = 10
# No sandbox: tests may run as root. The others keep the browser from asking its maker for anything.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-default-apps",
    "--disable-dev-shm-usage",
    "--font-render-hinting=none",
)


@dataclass(frozen=True, slots=True)
class Screen:
    """What a person looks at: its size [pixels of the page], and whether it is touched."""

    width: int
    height: int
    touched: bool = False
    dark: bool = False
    scale: float = 1.0
    zone: str = "America/Denver"
    still: bool = False  # the person asked for less motion

    def __str__(self) -> str:
        return f"{self.width}x{self.height}{' dark' if self.dark else ''}"


PHONE = Screen(390, 844, touched=True)
SMALL_PHONE = Screen(360, 740, touched=True)
DESK = Screen(1280, 800)
NO_FAULT_OF_OURS = "ERR_NETWORK_CHANGED"
"""An interface of this machine came or went; the page must bear that, and asks again."""


def launched(playwright: Playwright) -> Browser:
    """The machine's own Chromium. Raises RuntimeError when it is not installed."""
    program = shutil.which("chromium")
    if program is None:
        raise RuntimeError("chromium is missing: sudo apt install chromium")
    return playwright.chromium.launch(executable_path=program, headless=True, args=list(FLAGS))


@dataclass  # playwright marks the object whose methods it calls: no slots
class Viewer:
    """One window at one station's page, and all that went wrong in it."""

    page: Page
    address: str
    screen: Screen
    faults: list[str] = field(default_factory=list)
    fetched: list[Response] = field(default_factory=list)
    _expected: list[re.Pattern[str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(DEADLINE_MS)
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self._note(f"error in a script: {error}"))
        self.page.on("request", self._asked)
        self.page.on("response", self._answered)

    def expect_fault(self, pattern: str) -> None:
        """From now on this may be heard: the test itself breaks something."""
        self._expected.append(re.compile(pattern))

    def go(self, view: str = "now") -> None:
        """Open a view by its address."""
        self.page.goto(f"{self.address}/#/{view}")

    def tap(self, thing: Locator) -> None:
        """Press something as this screen is pressed."""
        if self.screen.touched:
            thing.tap()
        else:
            thing.click()

    def wait_for(self, condition: str) -> None:
        """Wait until something is true, in the language of the page. (The page forbids to make code
        out of text, so it is told all at once.)
        """
        self.page.evaluate(
            f"""async () => {{
              const end = performance.now() + {DEADLINE_MS};
              while (!({condition})) {{
                if (performance.now() > end) throw new Error('it never came true');
                await new Promise((look) => setTimeout(look, {LOOK_MS}));
              }}
            }}"""
        )

    def sideways_px(self) -> int:
        """How far the page can be scrolled sideways [pixels]."""
        return int(
            self.page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
        )

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self._note(f"{message.type} in the console: {message.text}")

    def _asked(self, request: Request) -> None:
        asked, own = urlsplit(request.url), urlsplit(self.address)
        if asked.scheme not in ("data", "blob") and asked.netloc != own.netloc:
            self._note(f"a request to another host: {request.url}")

    def _answered(self, response: Response) -> None:
        self.fetched.append(response)

    def _note(self, fault: str) -> None:
        if NO_FAULT_OF_OURS in fault:
            return
        if not any(pattern.search(fault) for pattern in self._expected):
            self.faults.append(fault)


Visit = Callable[[str, Screen], Viewer]
"""Opens a window at an address: the fixture ``visit``."""


@contextmanager
def viewing(browser: Browser, address: str, screen: Screen) -> Generator[Viewer]:
    """A new person's window; what went wrong in it fails the test at the end."""
    context = browser.new_context(
        viewport=ViewportSize(width=screen.width, height=screen.height),
        device_scale_factor=screen.scale,
        is_mobile=screen.touched,
        has_touch=screen.touched,
        color_scheme="dark" if screen.dark else "light",
        reduced_motion="reduce" if screen.still else "no-preference",
        locale="en-GB",
        timezone_id=screen.zone,
        accept_downloads=True,
    )
    viewer = Viewer(context.new_page(), address, screen)
    try:
        yield viewer
    finally:
        context.close()
    assert not viewer.faults, "\n".join(viewer.faults)
