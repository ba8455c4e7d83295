"""What a person does on the page, in the words that stand on its buttons."""

import re

from playwright.sync_api import Locator, expect

from browser.viewer import Viewer

SAID = "#said"


def card(viewer: Viewer, cooker: str) -> Locator:
    """The card of a cooker on the first view."""
    return viewer.page.get_by_role("article", name=cooker)


def stage(viewer: Viewer, cooker: str) -> Locator:
    """What a card says of its food: the dish and how far it is."""
    return card(viewer, cooker).locator(".stage")


def press(viewer: Viewer, within: Locator, words: str) -> None:
    """Press the button with these words."""
    viewer.tap(within.get_by_role("button", name=words, exact=True))


def act(viewer: Viewer, cooker: str, opens: str, confirms: str, **fields: str) -> None:
    """Two taps, and what is filled in between; returns when the station has noted it."""
    press(viewer, card(viewer, cooker), opens)
    sheet = viewer.page.get_by_role("dialog")
    for name, value in fields.items():
        entry = sheet.locator(f"[name={name}]")
        if entry.evaluate("entry => entry.tagName") == "SELECT":
            entry.select_option(value)
        else:
            entry.fill(value)
    press(viewer, sheet, confirms)
    expect(sheet).to_have_count(0)
    expect(viewer.page.locator(SAID)).to_contain_text(re.compile("noted"))


def undo(viewer: Viewer) -> None:
    """Take the last act back."""
    press(viewer, viewer.page.locator(SAID), "Undo")
    expect(viewer.page.locator(SAID)).to_contain_text("undo noted")
