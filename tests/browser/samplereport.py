"""A report for the documentation: a stew of our own, the same in every run, in Chromium."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import ViewportSize, sync_playwright

from browser.cookday import lived
from browser.viewer import launched
from fakes import FakeClock
from noonpot.app import reporting
from noonpot.app.machine import DATA_FILE
from noonpot.core.cook import Event
from noonpot.core.moment import utc
from noonpot.ports import SunTable
from noonpot.settings.files import supplied
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader
from simday import event, turns

BEGIN = utc("2026-06-21T13:45:00Z")
END = BEGIN + timedelta(hours=6)
LIGHT = """
[[probe]]
name = "light"
role = "irradiance"
bus = "garden"
address = "irradiance"
"""
PAPER = ViewportSize(width=800, height=1250)
COLOURS = 128
MOST_BYTES = 120_000


def sample(folder: Path, sun: SunTable) -> str:
    """The report of a stew with cloud before noon, as HTML."""
    file = folder / "stew.toml"
    file.write_text(supplied("demo.toml").read_text() + LIGHT)
    settings = replace(load(file), data=folder / "stew")
    settings.data.mkdir()
    lived(settings, _stew(settings, sun), BEGIN, END + timedelta(minutes=1), sun)
    now = END + timedelta(hours=2)
    reader = Reader(settings.data / DATA_FILE, FakeClock(now))
    return reporting.html(reporting.report_of(1, settings, reader, sun, now))


def shoot(docs: Path, folder: Path, sun: SunTable) -> None:
    """Draw the begin of the report."""
    with sync_playwright() as playwright:
        browser = launched(playwright)
        page = browser.new_page(viewport=PAPER)
        page.set_content(sample(folder, sun))
        drawn = Image.open(BytesIO(page.screenshot()))
        browser.close()
    file = docs / "report.png"
    drawn.quantize(COLOURS, dither=Image.Dither.NONE).save(file, optimize=True)
    size = file.stat().st_size
    if size > MOST_BYTES:
        raise AssertionError(f"{file.name} has {size} bytes, more than {MOST_BYTES}")


def _stew(settings: Settings, sun: SunTable) -> Sequence[Event]:
    place = settings.station.place

    def after(minutes: float) -> datetime:
        return BEGIN + timedelta(minutes=minutes)

    aims = turns("iron", BEGIN, END - timedelta(minutes=30), 3000.0, place, sun)
    return [
        event("iron", "start", BEGIN, food="stew"),
        *aims,
        event("iron", "load", after(10), food="stew", mass_kg=2.5, start_c=18),
        event("iron", "lid", after(130)),
        event("iron", "note", after(215), text="thin cloud"),
        event("iron", "spot", after(330), core_c=93.5),
        event("iron", "unload", END),
        event("iron", "stop", END),
    ]
