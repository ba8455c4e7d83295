"""The answer to "will it cook?", as it stands on the page."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from browser.acts import press
from browser.station import Station
from browser.viewer import DESK, Visit

STATION = "in times of the station, America/Denver"


def loading(hour: int, chance: float) -> Mapping[str, Any]:
    """What comes of putting the food in at an hour of UTC."""
    at, done = (f"2026-06-21T{h:02}:00:00Z" for h in (hour, hour + 3))
    return {
        "load_at": at,
        "out_at": at,
        "p_hot": None,
        "p_done": chance,
        "p_meal": None,
        "done_p10": done,
        "done_p50": done,
        "done_p90": done,
        "aim": None,
    }


def plan(chosen: Mapping[str, Any], hours: list[Mapping[str, Any]]) -> Mapping[str, Any]:
    """The plan of one cooker, with a curve."""
    points = [{"core_p10": 20.0, "core_p50": 50.0, "core_p90": 80.0}] * 2
    times = ("2026-06-21T16:00:00Z", "2026-06-21T20:00:00Z")
    return {
        "cooker": "box",
        "food": "bread",
        "mass_kg": 0.7,
        "start_c": 20.0,
        "target_c": 95.0,
        "hold_s": 120.0,
        "sky": "as skies come",
        "air_c": 20.0,
        "turn_every_s": 1800.0,
        "cooks_known": 2,
        "sun_from": "2026-06-21T14:00:00Z",
        "sun_lost": "2026-06-21T23:00:00Z",
        "meal": None,
        "worth": chosen["p_done"] >= 0.5,
        **chosen,
        "latest_load_at": None,
        "rescue_at": None,
        "rescue_because": None,
        "hours": hours,
        "curve": [{"time": at, **point} for at, point in zip(times, points, strict=True)],
    }


def answer(visit: Visit, station: Station, given: Mapping[str, Any], zone: str) -> Locator:
    """Ask, and be answered with this plan."""
    viewer = visit(station.address, replace(DESK, zone=zone))
    viewer.page.route("**/api/plan", lambda route: route.fulfill(json={"plans": [given]}))
    viewer.go("plan")
    press(viewer, viewer.page.get_by_role("main"), "Will it cook?")
    return viewer.page.get_by_role("region", name="The answer")


def test_at_best_is_not_less_than_what_stands_below_it(station: Station, visit: Visit) -> None:
    given = plan(loading(17, 0.33), [loading(16, 0.35), loading(17, 0.33)])
    shown = answer(visit, station, given, "America/Denver")
    expect(shown.get_by_role("heading")).to_contain_text("No: the chance is 35 % at best.")


@pytest.mark.parametrize(
    ("zone", "named"), [("Europe/Paris", 1), ("America/Denver", 0)], ids=["abroad", "at home"]
)
def test_all_times_of_a_plan_are_those_of_the_station(
    station: Station, visit: Visit, zone: str, named: int
) -> None:
    given = plan(loading(16, 0.9), [loading(16, 0.9)])
    shown = answer(visit, station, given, zone)
    expect(shown.get_by_role("heading")).to_contain_text("at 10:00")
    expect(shown.locator(".steps time")).to_have_text(["10:00", "13:00"])
    expect(shown.get_by_role("row").nth(1)).to_contain_text("10:00")
    expect(shown.get_by_text(STATION, exact=False)).to_have_count(named)
    shown.get_by_text("The same in numbers").click()
    chart = shown.get_by_role("group", name="The chart in numbers")
    expect(chart.get_by_role("rowheader")).to_have_text(["10:00", "14:00"])
