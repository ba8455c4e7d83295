"""What the page tells of a cook that is over."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from playwright.sync_api import Route, expect

from browser.station import Station
from browser.viewer import DESK, Viewer, Visit

DAY = "2026-06-19"
"""The day of cook 1; the clocks of the station are six hours behind UTC."""
FED, REACHED, DONE = (f"{DAY}T{hour}:00:00Z" for hour in (15, 16, 18))
Change = Callable[[int], Mapping[str, Any]]


def with_cooks(viewer: Viewer, change: Change) -> None:
    """Let each cook be told with these changes."""

    def told(route: Route) -> None:
        answer = route.fetch()
        cook = answer.json()
        route.fulfill(response=answer, json=cook | change(cook["id"]))

    viewer.page.route(re.compile(r"/api/cooks/\d+$"), told)


def test_the_touch_of_a_target_is_told_apart_from_being_done(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, DESK)

    def change(cook: int) -> Mapping[str, Any]:
        return {"loaded": FED, "reached": REACHED, "done": DONE if cook == 1 else None}

    with_cooks(viewer, change)
    viewer.go("cooks/compare?ids=1,2")
    rows = viewer.page.get_by_role("row")
    expect(rows.nth(1)).to_contain_text("done after 3 h")
    expect(rows.nth(2)).to_contain_text("target reached after 1 h, never found done")
    heads = rows.nth(0).get_by_role("columnheader").all_text_contents()
    cells = rows.nth(1).get_by_role("cell").all_text_contents()
    shown = dict(zip(heads[1:], cells, strict=True))
    assert (shown["to its target"], shown["until done"]) == ("1 h", "3 h")


def test_forecasts_are_held_against_the_touch_of_the_target(station: Station, visit: Visit) -> None:
    viewer = visit(station.address, DESK)
    given = [
        {
            "time": f"{DAY}T15:{minute}:00Z",
            "target_c": 95.0,
            "p_done": 0.9,
            "done_p10": f"{DAY}T15:55:00Z",
            "done_p50": f"{DAY}T16:10:00Z",
            "done_p90": f"{DAY}T16:30:00Z",
        }
        for minute in (20, 40)
    ]
    with_cooks(viewer, lambda _: {"reached": REACHED, "done": DONE, "forecasts": given})
    viewer.go("cooks/1")
    main = viewer.page.get_by_role("main")
    expect(main).to_contain_text("It reached its target at 10:00; 2 of 2 forecasts had that")
    expect(main.get_by_role("row").filter(has_text="10:10").first).to_contain_text("10 min late")


def test_before_the_last_load_a_probe_tells_nothing_of_the_food(
    station: Station, visit: Visit
) -> None:
    viewer = visit(station.address, DESK)
    loads = [
        {"time": f"{DAY}T{hour}:00:00Z", "kind": "load", "detail": {"food": "bread"}}
        for hour in (15, 19)
    ]
    with_cooks(viewer, lambda _: {"events": loads})
    viewer.go("cooks/1")
    viewer.page.get_by_text("The same in numbers").first.click()
    numbers = viewer.page.get_by_role("group", name="The chart in numbers")
    rows = numbers.get_by_role("row").filter(has_text=re.compile(r"\d\d:\d\d"))
    expect(rows.first).to_be_visible()
    told = [row.all_text_contents() for row in (r.locator("th, td") for r in rows.all())]
    known = [clock for clock, _, core, *_ in told if core != "\N{EN DASH}"]
    assert told[0][0] < "09:00"
    assert known
    assert min(known) >= "13:00"
