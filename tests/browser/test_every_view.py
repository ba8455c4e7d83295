"""Every view, on small and large screens, in light and dark, for eyes, fingers and readers."""

import pytest
from playwright.sync_api import Page, Route, expect

from browser.acts import act, card, press
from browser.axe import barriers
from browser.station import Station
from browser.viewer import DESK, SMALL_PHONE, Screen, Viewer, Visit

DARK = Screen(390, 844, touched=True, dark=True, still=True)
FIRST_VIEW_BYTES = 120 * 1024
VIEWS = ("now", "plan", "cooks", "cooks/1", "cooks/compare?ids=1,2", "cookers", "health")


def settle(viewer: Viewer, view: str) -> None:
    """Open a view and wait until it stands."""
    viewer.go(view)
    main = viewer.page.get_by_role("main")
    expect(main.get_by_role("heading", level=1)).to_have_count(1)
    expect(main.locator("[aria-busy=true]")).to_have_count(0)


def test_nothing_is_wider_than_a_small_phone(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, SMALL_PHONE)
    too_wide_px = {}
    for view in VIEWS:
        settle(viewer, view)
        too_wide_px[view] = viewer.sideways_px()
    assert too_wide_px == dict.fromkeys(VIEWS, 0)


@pytest.mark.parametrize("screen", [DESK, DARK], ids=str)
def test_no_view_keeps_anybody_out(
    station: Station, visit: Visit, checker: str, screen: Screen
) -> None:
    viewer = visit(station.address, screen)
    found = {}
    for view in VIEWS:
        settle(viewer, view)
        found[view] = barriers(viewer.page, checker)
    assert {view: issues for view, issues in found.items() if issues} == {}


@pytest.mark.parametrize("screen", [SMALL_PHONE, DARK], ids=str)
def test_a_cook_under_way_with_an_alarm_and_an_open_sheet(
    station: Station, visit: Visit, checker: str, screen: Screen
) -> None:
    viewer = visit(station.address, screen)
    settle(viewer, "now")
    act(viewer, "box", "Start…", "Start", food="flatbread")
    expect(card(viewer, "box").get_by_role("listitem")).to_contain_text(["preheated"])
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)
    press(viewer, card(viewer, "box"), "Put in…")
    expect(viewer.page.get_by_role("dialog")).to_be_visible()
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)


@pytest.mark.parametrize("first_run", [False, True])
def test_the_door_keeps_out_nobody_who_knows_the_word(
    station: Station, visit: Visit, checker: str, first_run: bool
) -> None:
    viewer = visit(station.address, SMALL_PHONE)
    viewer.expect_fault("status of 401")

    def strangers(route: Route) -> None:
        answer = route.fetch()
        said = answer.json()
        said["viewer"] |= {"needs_passphrase": True, "first_run": first_run}
        route.fulfill(response=answer, json=said)

    viewer.page.route("**/api/station", strangers)
    viewer.page.route("**/api/now", lambda route: route.fulfill(status=401, json={"error": "no"}))
    settle(viewer, "now")
    expect(viewer.page.get_by_label("passphrase")).to_be_visible()
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)


def test_the_checker_finds_what_is_wrong(visit: Visit, station: Station, checker: str) -> None:
    viewer = visit(station.address, DESK)
    settle(viewer, "now")
    viewer.page.evaluate("document.querySelector('main').append(document.createElement('button'))")
    assert [issue.partition(" ")[0] for issue in barriers(viewer.page, checker)] == ["button-name"]


def focused(page: Page) -> str:
    """What the keyboard would press now, in words."""
    return str(page.evaluate("document.activeElement.textContent.trim()"))


def tab_to(page: Page, words: str) -> None:
    """Press the tabulator until this is reached."""
    for _ in range(40):
        if focused(page) == words:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the tabulator does not come to {words}")


def test_a_keyboard_is_enough(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, DESK)
    settle(viewer, "now")
    keys = viewer.page.keyboard
    keys.press("Tab")
    assert focused(viewer.page) == "To the content"
    tab_to(viewer.page, "Start…")
    keys.press("Enter")
    sheet = viewer.page.get_by_role("dialog")
    expect(sheet).to_be_visible()
    keys.press("Escape")
    expect(sheet).to_have_count(0)
    assert focused(viewer.page) == "Start…"
    keys.press("Enter")
    tab_to(viewer.page, "Start")
    keys.press("Enter")
    expect(viewer.page.locator("#said")).to_contain_text("noted")


def test_the_first_view_is_light(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, SMALL_PHONE)
    settle(viewer, "now")
    viewer.wait_for("window.uPlot !== undefined")
    sizes = {
        answer.url: len(answer.body())
        for answer in viewer.fetched
        if not answer.url.endswith("/api/live")
    }
    own = {url: size for url, size in sizes.items() if "/api/" not in url}
    print(f"{sum(own.values())} bytes in {len(own)} files, {sum(sizes.values())} with its data")
    assert sum(own.values()) <= FIRST_VIEW_BYTES
