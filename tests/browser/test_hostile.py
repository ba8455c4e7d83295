"""Words that were made to do something on the page are shown as the letters they are made of."""

from playwright.sync_api import Locator, Route, expect

from broker import until
from browser.acts import act
from browser.station import Station
from browser.viewer import DESK, PHONE, Viewer, Visit

HOSTILE = "<img src=x onerror=\"document.title='taken'\"><b>soup</b>"


def shows_the_letters(viewer: Viewer, place: Locator) -> None:
    """The words stand there, and nothing came of them."""
    expect(place).to_contain_text(HOSTILE)
    expect(viewer.page.locator("img, b:text-is('soup')")).to_have_count(0)
    assert "taken" not in viewer.page.title()


def test_a_hostile_note(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, DESK)
    viewer.go("now")
    act(viewer, "iron", "Start…", "Start", food="milk")
    act(viewer, "iron", "Mark…", "Mark it", what="note", text=HOSTILE)
    until(lambda: station.cook("iron") is not None, "the cook has begun")
    cook = station.cook("iron")
    assert cook is not None
    viewer.go(f"cooks/{cook['id']}")
    shows_the_letters(viewer, viewer.page.get_by_role("main"))


def test_a_hostile_name_of_a_food(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)

    def poison(route: Route) -> None:
        """No configuration allows such a name; a station that was taken over might send it."""
        answer = route.fetch()
        said = answer.json()
        for cook in said["cooks"]:
            cook["food"] = HOSTILE
        route.fulfill(response=answer, json=said)

    viewer.page.route("**/api/cooks?*", poison)
    viewer.page.route("**/api/cooks", poison)
    viewer.go("cooks")
    shows_the_letters(viewer, viewer.page.get_by_role("main").get_by_role("listitem").first)


def test_a_hostile_advice(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)

    def poison(route: Route) -> None:
        answer = route.fetch()
        said = answer.json()
        said["topics"]["box/now"]["advice"] = HOSTILE
        route.fulfill(response=answer, json=said)

    viewer.page.route("**/api/now", poison)
    viewer.page.route("**/api/live", lambda route: route.abort())
    viewer.expect_fault("ERR_FAILED")
    viewer.go("now")
    shows_the_letters(viewer, viewer.page.locator(".advice").first)
