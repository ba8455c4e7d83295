"""What a cooker can do, on the page: sentences at once, the table of foods when asked for."""

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, Route, expect

from browser.axe import barriers
from browser.station import MORNING, Station
from browser.viewer import DESK, PHONE, Screen, Viewer, Visit
from endurance.extent import FULL
from noonpot.app import seasons
from noonpot.app.rating import stored
from noonpot.core.recommendation import Cell
from web.described import hold_told
from web.rated import Rater

LONG_MS = 100_000
NIGHT_DESK = Screen(1280, 800, dark=True)
ASK = "What can it cook, month by month?"
RECKONED = ("bread", "rice", "chicken")
"""Of these foods the year is reckoned in the short form; in the long form, of all."""


def card(viewer: Viewer, cooker: str) -> Locator:
    """What is shown of one cooker."""
    heading = viewer.page.get_by_role("heading", name=cooker, exact=True)
    return viewer.page.locator("section", has=heading)


def rated(viewer: Viewer) -> Locator:
    """The card of the box, when both cookers are rated."""
    viewer.go("cookers")
    expect(viewer.page.locator(".rated")).to_have_count(2)
    expect(viewer.page.get_by_text("Rating it from its cooks")).to_have_count(0, timeout=LONG_MS)
    return card(viewer, "box")


def body_of(viewer: Viewer, path: str) -> Any:
    """What the station has answered to a question, held against its description."""
    answer = next(a for a in viewer.fetched if path in a.url)
    return hold_told(path.partition("?")[0], answer.json())


@pytest.mark.parametrize("screen", [PHONE, DESK, NIGHT_DESK], ids=str)
def test_a_watched_cooker_is_told_in_sentences(
    station: Station, visit: Visit, checker: str, screen: Screen
) -> None:
    viewer = visit(station.address, screen)
    box = rated(viewer)
    told = body_of(viewer, "/api/cookers/box/rating")
    hottest = round(told["profile"]["profile"]["stagnation_c"]["value"])
    expect(box).to_contain_text(f"it comes to {hottest} °C at most (")
    expect(box).to_contain_text("Cooking power")
    expect(box).to_contain_text("irst figure of merit")
    expect(box.get_by_role("button", name=ASK)).to_be_enabled()
    assert not [answer for answer in viewer.fetched if "/foods?" in answer.url]
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)


def test_what_is_missing_is_said_of_one_that_nobody_watched(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)

    def never(route: Route) -> None:
        route.fulfill(json=Rater().rating("box"))

    viewer.page.route("**/api/cookers/*/rating", never)
    box = rated(viewer)
    expect(box).to_contain_text("Not enough cooks yet: none tells what kind of cooker it is.")
    expect(box).to_contain_text(
        "Cooking power: not enough cooks yet. Stretches of ten minutes that could be rated: 0;"
    )
    expect(box).to_contain_text("First figure of merit: not enough cooks yet.")
    expect(box).to_contain_text("Second figure: not enough cooks yet.")


def broken_off(station: Station) -> None:
    """As if somebody had asked before, and been cut short: the table goes on with what is missing.
    What is kept of the other foods says that they are never done.
    """
    season = stored(station.settings, "box", None, MORNING).season(None, seasons.AIR_C)
    done = [
        Cell(food, month, "clear", 0.0, None, None, None)
        for food in season.foods
        if food not in RECKONED
        for month in range(1, 13)
    ]
    seasons._keep(seasons._file(season, MORNING.year, "clear"), done)  # noqa: SLF001


def test_the_year_is_reckoned_when_somebody_asks(
    station: Station, visit: Visit, checker: str
) -> None:
    if not FULL:
        broken_off(station)
    viewer = visit(station.address, PHONE)
    box = rated(viewer)
    viewer.tap(box.get_by_role("button", name=ASK))
    expect(box).to_contain_text("Reckoning the year")
    table = box.locator("table.months")
    expect(table).to_be_visible(timeout=LONG_MS)
    told = body_of(viewer, "/api/cookers/box/foods?sky=clear")
    expect(table.get_by_role("row")).to_have_count(1 + len(told["foods"]))
    june = {c["food"]: c for c in told["cells"] if c["month"] == 6}
    bread = table.get_by_role("row", name=re.compile("^bread 0.8 kg"))
    words = {"good": "good", "fair": "perhaps", "poor": "not to be recommended"}
    expect(bread.get_by_role("cell").nth(5)).to_contain_text(words[june["bread"]["verdict"]])
    assert june["bread"]["takes_s"] is not None
    best = max(june.values(), key=lambda cell: cell["chance"])
    if best["verdict"] == "good":
        expect(box.locator("p.advice")).to_contain_text("In June ")
        expect(box.locator("p.advice")).to_contain_text("under a clear sky when it goes in at")
    expect(box).to_contain_text("A chance is no promise")
    expect(box).to_contain_text("check it with a second thermometer")
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)


@pytest.mark.parametrize("screen", [PHONE, DESK, NIGHT_DESK], ids=str)
def test_the_table_is_read_by_everybody(
    station: Station, visit: Visit, checker: str, screen: Screen
) -> None:
    viewer = visit(station.address, screen)
    rater = Rater()
    chances = [0.004, 0.1, 0.3, 0.4, 0.55, 0.6, 0.7, 0.8, 0.85, 0.95, 0.99, 0.999]

    def quick(route: Route) -> None:
        told: Any = dict(rater.foods("box", "thin"))
        for cell, chance in zip(told["cells"], chances, strict=True):
            cell["chance"] = chance
            cell["verdict"] = "good" if chance >= 0.8 else "fair" if chance >= 0.5 else "poor"
        route.fulfill(json=told)

    viewer.page.route("**/foods?sky=thin", quick)
    box = rated(viewer)
    box.get_by_label("Sky").select_option("thin")
    viewer.tap(box.get_by_role("button", name=ASK))
    cells = box.locator("table.months tbody td")
    expect(cells).to_have_count(12)
    expect(cells.nth(0)).to_contain_text("<1 %, not to be recommended")
    expect(cells.nth(5)).to_contain_text("60 %, perhaps, in by 04:40")
    expect(cells.nth(11)).to_contain_text(">99 %, good")
    grounds = cells.evaluate_all("all => all.map((td) => getComputedStyle(td).backgroundColor)")
    assert len(set(grounds)) == 5
    expect(box.locator("p.advice")).to_contain_text(
        "Nothing can be recommended in June under thin cloud."
    )
    expect(box).to_contain_text("nobody has watched it")
    assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)


def test_a_refusal_is_told_and_may_be_asked_again(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault("status of 503")
    late = {"error": "not done within 60 s; ask again, or when the station has less to do"}
    viewer.page.route("**/foods?*", lambda route: route.fulfill(status=503, json=late))
    box = rated(viewer)
    viewer.tap(box.get_by_role("button", name=ASK))
    expect(box.locator("p.error")).to_have_text(f"{late['error']}.")
    expect(box.get_by_role("button", name=ASK)).to_be_enabled()
