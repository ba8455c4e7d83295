"""When the line to the station breaks, or a part of the page is missing."""

from playwright.sync_api import Locator, expect

from browser.acts import act, card, stage
from browser.station import Station
from browser.viewer import DESK, PHONE, Viewer, Visit

OFFLINE = "No connection to the station"
BROKEN_LINE = r"ERR_(INTERNET_DISCONNECTED|CONNECTION_REFUSED|INCOMPLETE_CHUNKED|EMPTY_RESPONSE)"
BACK_MS = 20_000
"""A page that waits longer and longer may wait so long for its next try."""


def strip(viewer: Viewer) -> Locator:
    """What stands loudly at the top when the page cannot be trusted."""
    return viewer.page.locator("#strip")


def test_two_people_see_what_either_does(station: Station, visit: Visit) -> None:
    one, other = visit(station.address, PHONE), visit(station.address, DESK)
    one.go("now")
    other.go("now")
    act(one, "box", "Start…", "Start", food="milk")
    expect(stage(other, "box")).to_have_text("milk · heating up")
    act(other, "box", "Stop…", "End it")
    expect(stage(one, "box")).to_have_text("resting")


def test_offline_is_said_loudly_old_values_are_marked_and_the_way_back_is_found(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault(BROKEN_LINE)
    viewer.go("now")
    expect(stage(viewer, "box")).to_have_text("resting")
    expect(strip(viewer)).to_be_hidden()
    viewer.page.context.set_offline(True)
    expect(strip(viewer)).to_contain_text(OFFLINE)
    expect(stage(viewer, "box")).to_contain_text("as of")
    viewer.page.context.set_offline(False)
    expect(strip(viewer)).to_be_hidden(timeout=BACK_MS)
    expect(stage(viewer, "box")).to_have_text("resting")


def test_a_restart_of_the_station_needs_no_hand_at_the_page(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, DESK)
    viewer.expect_fault(BROKEN_LINE)
    viewer.go("now")
    act(viewer, "iron", "Start…", "Start", food="milk")
    station.end()
    expect(strip(viewer)).to_contain_text(OFFLINE)
    station.start()
    expect(strip(viewer)).to_be_hidden(timeout=BACK_MS)
    expect(stage(viewer, "iron")).to_have_text("milk · heating up")
    act(viewer, "iron", "Stop…", "End it")  # with a new token, though nothing was loaded anew
    expect(stage(viewer, "iron")).to_have_text("resting")


def test_without_the_chart_script_numbers_a_plain_line_and_a_table_remain(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault("ERR_FAILED")
    viewer.page.route("**/vendor/**", lambda route: route.abort())
    viewer.go("now")
    box = card(viewer, "box")
    expect(box.locator("svg.lines path.pot")).to_have_count(1)
    expect(box.locator(".big")).to_contain_text("°")
    viewer.tap(box.get_by_text("The same in numbers"))
    expect(box.get_by_role("table").get_by_role("row").nth(1)).to_be_visible()
