"""When the line to the station breaks, or a part of the page is missing."""

from playwright.sync_api import Locator, expect

from browser.acts import act, card, stage
from browser.axe import barriers
from browser.halfdead import HalfDead
from browser.station import Station
from browser.viewer import DESK, PHONE, Viewer, Visit

OFFLINE = "No connection to the station"
BROKEN_LINE = (
    r"ERR_(INTERNET_DISCONNECTED|CONNECTION_REFUSED|INCOMPLETE_CHUNKED|EMPTY_RESPONSE"
    r"|INVALID_HTTP_RESPONSE)"
)
SILENCE_MS = 60_000
"""A page to which so long nothing was said does something about it."""
ASKED_TWICE = "fetch('/api/station').then(() => fetch('/api/station')).then(() => null)"
"""Whatever the page has asked before is answered after that."""
SHADE = """element => {
  let shade = 1;
  for (let at = element; at; at = at.parentElement) shade *= Number(getComputedStyle(at).opacity);
  return shade;
}"""
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
    for part in (".advice", ".care", ".alarms", ".big"):
        faded = viewer.page.locator(f"article {part}").first.evaluate(SHADE)
        assert faded < 1, f"{part} looks as if it were of now"
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


def test_a_line_that_is_open_and_brings_nothing_is_laid_anew(
    station: Station, visit: Visit
) -> None:
    with HalfDead(station.port) as line:
        viewer = visit(line.address, PHONE)
        viewer.page.clock.install()
        viewer.go("now")
        act(viewer, "box", "Start…", "Start", food="milk")
        expect(stage(viewer, "box")).to_have_text("milk · heating up")
        line.stall()
        station.rest()
        expect(stage(viewer, "box")).to_have_text("milk · heating up")
        viewer.page.clock.fast_forward(SILENCE_MS)
        expect(stage(viewer, "box")).to_have_text("resting")
        line.heal()
        viewer.page.clock.fast_forward(SILENCE_MS)
        act(viewer, "box", "Start…", "Start", food="milk")
        expect(stage(viewer, "box")).to_have_text("milk · heating up")


def test_who_was_watching_and_is_a_stranger_now_is_told_so_loudly(
    station: Station, visit: Visit, checker: str
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault(BROKEN_LINE)
    viewer.expect_fault("status of 401")
    viewer.go("health")
    viewer.go("now")
    expect(viewer.page).to_have_title("Now · orchard · Noonpot")
    with station.locked():
        viewer.page.context.set_offline(True)
        expect(strip(viewer)).to_contain_text(OFFLINE)
        viewer.page.context.set_offline(False)
        passphrase = viewer.page.get_by_label("passphrase")
        expect(passphrase).to_be_visible(timeout=BACK_MS)
        expect(strip(viewer)).to_have_text(
            "▲ You are not signed in any more: nothing here is shown or told. Look at the food."
        )
        expect(viewer.page).to_have_title("Not signed in · Noonpot")
        expect(viewer.page.locator("#tools button")).to_have_count(0)
        assert (barriers(viewer.page, checker), viewer.sideways_px()) == ([], 0)

        passphrase.fill("four words that")
        with viewer.page.expect_response("**/api/station"):
            viewer.page.evaluate("dispatchEvent(new Event('online'))")  # as after a phone's nap
        viewer.page.evaluate(ASKED_TWICE)
        viewer.page.go_back()
        viewer.wait_for("location.hash === '#/health'")
        expect(passphrase).to_have_value("four words that")
        expect(viewer.page).to_have_title("Not signed in · Noonpot")


def test_a_stranger_who_comes_for_the_first_time_is_not_told_of_an_end(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    with station.locked():
        viewer.go("now")
        expect(viewer.page.get_by_label("passphrase")).to_be_visible()
        expect(strip(viewer)).to_be_hidden()


def test_a_part_of_the_page_that_did_not_come_is_asked_for_again(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault("ERR_FAILED")
    viewer.page.route("**/static/plan.js", lambda route: route.abort())
    viewer.go("plan")
    expect(viewer.page.get_by_role("heading", level=1)).to_have_text("Will it cook?")


def test_without_the_chart_script_numbers_a_plain_line_and_a_table_remain(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault("ERR_FAILED")
    viewer.page.route("**/vendor/**", lambda route: route.abort())
    viewer.go("now")
    box = card(viewer, "box")
    expect(box.locator("svg.lines path.pot")).to_have_count(1)
    expect(box.locator("svg.lines path.pot")).not_to_have_css("stroke", "none")
    expect(box.locator(".big")).to_contain_text("°")
    viewer.tap(box.get_by_text("The same in numbers"))
    expect(box.get_by_role("table").get_by_role("row").nth(1)).to_be_visible()
