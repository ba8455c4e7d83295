"""Pictures of the page for the documentation: a morning of our own, the same in every run."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import expect, sync_playwright

from broker import free_port, listens, until
from browser.cookday import lived
from browser.history import keep
from browser.viewer import Screen, Viewer, launched, viewing
from noonpot.app.machine import DATA_FILE
from noonpot.app.pagekeeper import PageKeeper
from noonpot.clock import SystemClock
from noonpot.core.cook import Event
from noonpot.core.moment import iso, utc
from noonpot.ports import SunTable
from noonpot.settings.files import supplied
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from simday import event, record_day, turns

BEGIN, NOW = utc("2026-06-21T13:45:00Z"), utc("2026-06-21T16:08:00Z")
EARLIER = (("bread", 1, "thin-cloud"), ("rice", 3, "clear"), ("bread", 4, "broken"))
PHONE = Screen(390, 844, touched=True, scale=2, still=True)
NIGHT_PHONE = replace(PHONE, dark=True)
DESK = Screen(1280, 800, still=True)
PICTURES = (
    ("page-phone.png", PHONE, "now"),
    ("page-phone-dark.png", NIGHT_PHONE, "now"),
    ("page-desk.png", DESK, "now"),
    ("page-cook.png", DESK, "cooks/3"),
)
MOST_BYTES = 120_000
COLOURS = 128
CURVES = "performance.getEntriesByType('resource').filter(({ name }) => /curve/.test(name)).length"
FRAMES = "new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))"
FROZEN = 1e-6
"""A clock so slow that it stands."""


def shoot(docs: Path, folder: Path, sun: SunTable) -> None:
    """Draw every picture of the page, with ``folder`` to work in."""
    file, port = folder / "noonpot.toml", free_port()
    file.write_text(supplied("demo.toml").read_text() + f"\n[page]\nport = {port}\n")
    settings = replace(load(file), data=folder)
    _remember(settings, sun)
    shown = lived(settings, _morning(settings, sun), BEGIN, NOW, sun)
    with ExitStack() as stack:
        keeper = stack.enter_context(_served(file, settings))
        for topic, payload in shown.items():
            keeper.show(topic, payload)
        browser = launched(stack.enter_context(sync_playwright()))
        for name, screen, view in PICTURES:
            keeper.beat()
            with viewing(browser, f"http://127.0.0.1:{port}", screen) as viewer:
                _shoot(viewer, view, docs / name)


def _shoot(viewer: Viewer, view: str, file: Path) -> None:
    viewer.go(view)
    charts = viewer.page.locator("main .chart")
    expect(charts.locator("canvas").first).to_be_visible()
    viewer.wait_for(f"{CURVES} >= {charts.count()}")
    viewer.page.evaluate(FRAMES)
    drawn = Image.open(BytesIO(viewer.page.screenshot(animations="disabled", caret="hide")))
    drawn.quantize(COLOURS, dither=Image.Dither.NONE).save(file, optimize=True)
    size = file.stat().st_size
    if size > MOST_BYTES:
        raise AssertionError(f"{file.name} has {size} bytes, more than {MOST_BYTES}")


@contextmanager
def _served(file: Path, settings: Settings) -> Iterator[PageKeeper]:
    """The page at a moment that does not pass."""
    hello = {
        "config": str(file),
        "data": str(settings.data),
        "clock": {"start": iso(NOW), "rate": FROZEN, "origin_s": SystemClock().moment().mono_s},
        "bind": settings.page.bind,
        "port": settings.page.port,
    }
    keeper = PageKeeper(settings.station.name, lambda: hello, SystemClock())
    keeper.start()
    try:
        until(lambda: listens(settings.page.port), "the page is served")
        yield keeper
    finally:
        keeper.close()


def _remember(settings: Settings, sun: SunTable) -> None:
    """Cooks of earlier days, in the order in which they happened."""
    place = settings.station.place
    for food, days, sky in sorted(EARLIER, key=lambda cook: -cook[1]):
        begun = BEGIN - timedelta(days=days)
        fed, over = begun + timedelta(minutes=70), begun + timedelta(hours=6)
        script = [
            *turns("box", begun, over, 2400.0, place, sun),
            event("box", "load", fed, food=food, mass_kg=0.7, start_c=24),
        ]
        options = {"cookers": [{"name": "box"}], "sky": sky, "seed": days}
        recording = record_day(options, script, begun, over, place=place, sun=sun)
        keep(settings.data / DATA_FILE, settings.station.probes, recording, food)


def _morning(settings: Settings, sun: SunTable) -> Sequence[Event]:
    """Bread in the box once it is hot, a stew in the iron pot from the beginning."""
    place = settings.station.place

    def after(minutes: float) -> datetime:
        return BEGIN + timedelta(minutes=minutes)

    return [
        event("box", "start", BEGIN, food="bread"),
        *turns("box", BEGIN, NOW, 2400.0, place, sun),
        event("box", "load", after(70), food="bread", mass_kg=0.7, start_c=24),
        event("iron", "start", BEGIN, food="stew"),
        *turns("iron", BEGIN, after(80), 2400.0, place, sun),
        event("iron", "load", after(5), food="stew", mass_kg=2.5, start_c=18),
    ]
