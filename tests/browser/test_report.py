"""The report of a cook as people meet it: behind a link, on a phone, and on paper."""

import re

import pytest
from playwright.sync_api import expect

from browser.axe import barriers
from browser.station import Station
from browser.viewer import DESK, PHONE, SMALL_PHONE, Screen, Viewer, Visit

SHEETS = (1, 4)


def opened(station: Station, visit: Visit, screen: Screen) -> Viewer:
    """A window that shows the report of the second cook."""
    viewer = visit(station.address, screen)
    viewer.page.goto(f"{station.address}/api/cooks/2/report.html")
    return viewer


def test_a_link_on_each_cook_leads_to_its_report(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)
    viewer.go("cooks/2")
    with viewer.page.expect_popup() as popup:
        viewer.tap(viewer.page.get_by_role("link", name="Report", exact=True))
    expect(popup.value.get_by_role("heading", level=1)).to_have_text("Rice in box")


@pytest.mark.parametrize("screen", [PHONE, SMALL_PHONE, DESK], ids=str)
def test_nothing_is_wider_than_the_screen_and_nobody_is_kept_out(
    station: Station, visit: Visit, checker: str, screen: Screen
) -> None:
    viewer = opened(station, visit, screen)
    assert viewer.sideways_px() == 0
    assert barriers(viewer.page, checker) == []
    small = screen.touched
    expect(viewer.page.locator(".slim").first).to_be_visible(visible=small)
    expect(viewer.page.locator(".full").first).to_be_visible(visible=not small)


def test_its_style_is_applied_and_it_asks_for_nothing_else(station: Station, visit: Visit) -> None:
    viewer = opened(station, visit, DESK)  # a style that its policy refuses would be a fault
    serif = viewer.page.locator("h1").evaluate("element => getComputedStyle(element).fontFamily")
    assert serif.startswith("ui-serif")
    assert [answer.url.rpartition("/")[2] for answer in viewer.fetched] == ["report.html"]


def test_it_prints_on_few_sheets_with_the_wide_pictures(station: Station, visit: Visit) -> None:
    viewer = opened(station, visit, PHONE)
    printed = viewer.page.pdf(prefer_css_page_size=True)
    sheets = len(re.findall(rb"/Type\s*/Page\b", printed))
    assert SHEETS[0] <= sheets <= SHEETS[1]
    assert b"/MediaBox [0 0 594" in printed or b"/MediaBox [0 0 595" in printed  # A4
    viewer.page.emulate_media(media="print")
    expect(viewer.page.locator(".full").first).to_be_visible()
    expect(viewer.page.locator(".slim").first).to_be_hidden()
