"""What a card says of food that must keep its heat, of probes that are wrong, of chances and of
times that are over.
"""

import pytest
from playwright.sync_api import Locator, expect

from browser.acts import card
from browser.axe import barriers
from browser.scene import NOON, Scene
from browser.station import Station
from browser.viewer import DESK, PHONE, Viewer, Visit

HOLD = {"hold_s": 7200.0}
REACHED = {"p_done": 1.0} | dict.fromkeys(("done_p10", "done_p50", "done_p90"), NOON)
ONE_FAULT = {"fault": "not-answering", "since": NOON}


def box(viewer: Viewer, scene: Scene) -> Locator:
    """The card of `box` in this scene."""
    scene.set_for(viewer)
    viewer.go("now")
    return card(viewer, "box")


@pytest.mark.parametrize(
    ("cook", "forecast", "words"),
    [
        (
            HOLD,
            {},
            (
                "Chance 90 %; if so target about 13:00, then 2 h of heat: done about 15:00, "
                "between 14:30 and 16:00 eight times in ten."
            ),
        ),
        ({}, {}, "Chance 90 %; if so about 13:00, between 12:30 and 14:00 eight times in ten."),
        (HOLD, REACHED, "Its target was reached at 12:00; it must hold it until 14:00."),
        ({"hold_s": 15.0}, REACHED, "Its target was reached at 12:00."),
    ],
)
def test_to_touch_the_target_is_not_to_be_done_where_it_must_be_held(
    station: Station,
    visit: Visit,
    cook: dict[str, object],
    forecast: dict[str, object],
    words: str,
) -> None:
    shown = box(visit(station.address, PHONE), Scene(cook=cook, forecast=forecast))
    expect(shown.locator(".chance")).to_have_text(words)
    expect(shown.get_by_role("img", name=words)).to_have_count(1)
    hold = cook.get("hold_s") == HOLD["hold_s"]
    expect(shown.locator(".others")).to_contain_text("core, for 2 h" if hold else "core when done")


def test_food_that_is_done_need_not_hold_its_target_any_more(
    station: Station, visit: Visit
) -> None:
    done = {"alarm": "done", "state": "acknowledged"}
    scene = Scene(cook=HOLD, forecast=REACHED, alarms=[done])
    expect(box(visit(station.address, PHONE), scene).locator(".chance")).to_have_text(
        "Its target was reached at 12:00."
    )


@pytest.mark.parametrize(
    ("probe", "big", "pot"),
    [
        ("box-core", "core, not believed", "pot"),
        ("box-pot", "core", "pot, not believed"),
        ("shade", "core", "pot"),
    ],
)
def test_a_value_of_a_faulty_probe_is_greyed_at_once(
    station: Station, visit: Visit, checker: str, probe: str, big: str, pot: str
) -> None:
    viewer = visit(station.address, PHONE)
    now = {"core_c": 71.0, "pot_c": 99.0, "faults": [{"probe": probe, **ONE_FAULT}]}
    shown = box(viewer, Scene(now=now, cook={}))
    expect(shown.locator(".core .what")).to_have_text(big)
    expect(shown.locator(".others .what").first).to_have_text(pot)
    grey = "element => getComputedStyle(element).color !== getComputedStyle(document.body).color"
    assert shown.locator(".core .big").evaluate(grey) == ("not believed" in big)
    assert shown.locator(".others b").first.evaluate(grey) == ("not believed" in pot)
    assert barriers(viewer.page, checker) == []


def test_while_it_is_not_known_what_a_faulty_probe_measures_nothing_is_believed(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, PHONE)
    viewer.expect_fault("ERR_FAILED")
    viewer.page.route("**/api/health", lambda route: route.abort())
    now = {"core_c": 71.0, "pot_c": 99.0, "faults": [{"probe": "box-core", **ONE_FAULT}]}
    shown = box(viewer, Scene(now=now, cook={}))
    expect(shown.get_by_text("not believed", exact=False)).to_contain_text(
        ["core, not believed", "pot, not believed"]
    )


def test_a_cooker_that_rests_may_still_burn(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)
    hot = box(viewer, Scene(now={"pot_c": 60.0}))
    expect(hot.locator(".care")).to_have_text("Hot: gloves; cover it or turn it away.")
    expect(card(viewer, "iron").locator(".core")).to_contain_text("59")
    expect(card(viewer, "iron").locator(".care")).to_have_text("")


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("2026-06-21T18:30:00Z", "If it goes poorly, move it to another heat by 12:30"),
        ("2026-06-21T17:30:00Z", "The last moment to move it to another heat was 11:30."),
    ],
)
def test_nobody_is_asked_to_do_a_thing_by_a_time_that_is_past(
    station: Station, visit: Visit, at: str, words: str
) -> None:
    scene = Scene(cook={}, forecast={"rescue_at": at, "rescue_because": "safety"})
    expect(box(visit(station.address, PHONE), scene).locator(".notes")).to_contain_text(words)


def test_only_what_can_be_put_off_offers_it(station: Station, visit: Visit) -> None:
    alarms: list[dict[str, object]] = [
        {"alarm": "probe", "may_shelve": False},
        {"alarm": "turn", "may_shelve": True},
        {"alarm": "lid"},
        {"alarm": "cooling"},
    ]
    shown = box(visit(station.address, PHONE), Scene(cook={}, alarms=alarms))
    expect(shown.get_by_role("button", name="I know: ")).to_have_count(4)
    later = shown.get_by_role("button", name="Later: ")
    expect(later).to_have_count(2)
    names = [button.get_attribute("aria-label") for button in later.all()]
    assert sorted(map(str, names)) == ["Later: lid", "Later: turn"]


def test_no_chance_is_told_as_certain(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, DESK)
    viewer.go("now")
    told = viewer.page.evaluate(
        "async () => [0, 0.004, 0.005, 0.334, 0.994, 0.995, 1, null]"
        ".map((await import('/static/units.js')).percent)"
    )
    assert told == [
        "below 1 %",
        "below 1 %",
        "1 %",
        "33 %",
        "99 %",
        "above 99 %",
        "above 99 %",
        "\N{EN DASH}",
    ]
