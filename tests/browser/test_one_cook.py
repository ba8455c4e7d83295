"""A whole cook, from first sun to an empty pot, by nothing but taps."""

import pytest
from playwright.sync_api import expect

from browser.acts import act, card, press, stage, undo
from browser.station import Station
from browser.viewer import DESK, PHONE, Screen, Visit


@pytest.mark.parametrize(("screen", "cooker"), [(PHONE, "box"), (DESK, "iron")], ids=str)
def test_a_cook_is_told_by_taps_from_its_start_to_its_end(
    station: Station, visit: Visit, screen: Screen, cooker: str
) -> None:
    viewer = visit(station.address, screen)
    viewer.go("now")
    alarms = card(viewer, cooker).get_by_role("listitem")
    expect(stage(viewer, cooker)).to_have_text("resting")
    hot = alarms.filter(has_text="preheated")
    expect(hot).to_have_count(0)  # what a cook just before was told takes a minute to end

    act(viewer, cooker, "Start…", "Start", food="flatbread")
    expect(stage(viewer, cooker)).to_have_text("flatbread · heating up")
    press(viewer, hot, "I know: preheated")
    expect(hot.filter(has_text="you know")).to_have_count(1)
    act(viewer, cooker, "Turned…", "It points there", azimuth="135", elevation="60")

    act(viewer, cooker, "Put in…", "It is in", mass="0,4", start="21")
    expect(stage(viewer, cooker)).to_have_text("flatbread, 0.4 kg · cooking")
    undo(viewer)
    expect(stage(viewer, cooker)).to_have_text("flatbread · heating up")
    act(viewer, cooker, "Put in…", "It is in", mass="0.5", start="21")
    expect(stage(viewer, cooker)).to_have_text("flatbread, 0.5 kg · cooking")
    act(viewer, cooker, "Mark…", "Mark it", what="lid")
    act(viewer, cooker, "Thermometer…", "Note it", core="38.5")
    cook = station.cook(cooker)
    assert cook is not None
    act(viewer, cooker, "Take out…", "It is out")
    expect(stage(viewer, cooker)).to_have_text("flatbread · taken out")
    act(viewer, cooker, "Stop…", "End it")
    expect(stage(viewer, cooker)).to_have_text("resting")
    assert station.cook(cooker) is None

    viewer.go(f"cooks/{cook['id']}")
    story = viewer.page.get_by_role("main")
    for words in (
        "began flatbread",
        "turned bearing 135°, tilt 60°",
        "taken back: load",
        "put in flatbread, 0.5 kg, from 21 °C",
        "lid open",
        "own thermometer 39 °C",
        "taken out",
        "ended",
    ):
        expect(story).to_contain_text(words)


def test_what_is_refused_says_why_and_changes_nothing(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, PHONE)
    viewer.go("now")
    press(viewer, card(viewer, "box"), "Turned…")
    sheet = viewer.page.get_by_role("dialog")
    sheet.locator("[name=elevation]").fill("200")
    press(viewer, sheet, "It points there")
    expect(sheet.get_by_role("alert")).to_contain_text("from 0 to 90")
    press(viewer, sheet, "Not now")
    expect(sheet).to_have_count(0)
    assert station.cook("box") is None
