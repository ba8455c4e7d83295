"""What the page shows: with and without a cook, always as described."""

import re
from datetime import UTC, datetime
from typing import Any

import pytest
from starlette.routing import Mount, Route

from noonpot.core.alert import Alert, Priority
from noonpot.core.calibration import Point, calibrated, place_of
from noonpot.core.cook import Cook, Event, EventKind, Load
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.orders import Verb
from noonpot.core.payloads import health_payload
from noonpot.core.readings import Fault, FaultKind, Reading
from noonpot.core.recording import parse_recording
from noonpot.core.stationfacts import Backup
from noonpot.ports import Batch, Given
from noonpot.web.doors import Doors
from noonpot.web.site import routes
from web.described import API
from web.homes import Home

BACKED_UP = datetime(2026, 6, 3, 3, tzinfo=UTC)
VIEWS = (
    "/api/station",
    "/api/now",
    "/api/health",
    "/api/cooks",
    "/api/cookers/box/curve",
    "/api/shares",
    "/api/openapi.json",
)


def done_at(now: Moment) -> Alert:
    """The watch says that the bread is done."""
    return Alert(f"done-{now.at}", now.at, now.at, "box", "done", "raised", Priority.HIGH, "done")


def cooked(home: Home, cook_id: int = 0) -> Cook:
    """An hour in the sun with bread in the pot, taken out and stopped."""
    began = home.clock.moment().at
    start = Event("box", began, EventKind.START, {"food": "bread"})
    load = Event("box", began, EventKind.LOAD, {"food": "bread", "mass_kg": "0.6"})
    running = Cook("box", began, "bread", id=cook_id, load=Load(began, "bread", 0.6))
    (cook,) = home.store.write(home.clock.moment(), Batch(events=[start, load], cooks=[running]))
    for minute in range(60):
        now = home.clock.advance(60)
        core_c = 112.0 if minute < 2 else 40.0 + minute  # its probe comes out of the hot pot
        samples = [
            Reading("box-pot", now.at, now.mono_s, 80.0 + minute),
            Reading("box-core", now.at, now.mono_s, core_c),
        ]
        foreseen = Forecast(now.at, 92.65, 0.9, now.at, now.at, now.at)
        told = [done_at(now)] if minute == 56 else []
        home.store.write(
            now, Batch(samples=samples, forecasts=[Given(cook.id, foreseen)], alerts=told)
        )
    out = [
        Event("box", now.at, EventKind.NOTE, {"text": "=1+1 <img onerror=alert(1)>"}),
        Event("box", now.at, EventKind.UNLOAD),
        Event("box", now.at, EventKind.STOP),
    ]
    ended = cook.after(out[1]).after(out[2])
    home.store.write(now, Batch(events=out, cooks=[ended]))
    return ended


def test_every_view_works_while_no_cook_was_ever_made(home: Home) -> None:
    with home.page() as page:
        viewer = page.viewer()
        for view in VIEWS:
            assert viewer.get(view).status_code == 200, view
        assert viewer.told("/api/cooks") == {"cooks": [], "more": False}
        assert viewer.told("/api/now") == {"time": None, "topics": {}}
        curve = viewer.told("/api/cookers/box/curve")
        assert curve["time"] == curve["pot_c"] == curve["core_c"] == []
        assert viewer.get("/").status_code == 200


def test_the_station_says_what_there_is_and_what_one_may_do(home: Home) -> None:
    with home.page() as page:
        station = page.viewer().told("/api/station")
    assert (station["station"], station["units"]) == ("garden", "C")
    assert station["timezone"] == "America/Denver"
    assert station["boiling_c"] == pytest.approx(94.65, abs=0.1)
    assert [cooker["name"] for cooker in station["cookers"]] == ["box"]
    (bread,) = (food for food in station["foods"] if food["name"] == "bread")
    assert bread["target_c"] == pytest.approx(92.65, abs=0.1)  # what the elevation makes of it
    assert station["viewer"] == {
        "may_write": True,
        "needs_passphrase": False,
        "first_run": False,
        "shared": False,
    }


def test_a_cook_is_told_with_its_story(home: Home) -> None:
    began = home.clock.moment().at
    cook = cooked(home)
    with home.page() as page:
        viewer = page.viewer()
        (told,) = viewer.told("/api/cooks")["cooks"]
        story = viewer.told(f"/api/cooks/{cook.id}")
        curve = viewer.told(f"/api/cooks/{cook.id}/curve")
    assert (told["food"], told["mass_kg"]) == ("bread", 0.6)
    assert told["target_c"] == pytest.approx(92.65, abs=0.1)
    assert told["peak_core_c"] == 99.0
    assert told["reached"] == "2026-06-03T07:54:00Z"  # 93 °C, after 54 minutes
    assert told["done"] == "2026-06-03T07:57:00Z"  # when the watch said so
    assert told["stopped"] == "2026-06-03T08:00:00Z"
    assert 2 <= len(told["small"]["time"]) <= 60
    assert [event["kind"] for event in story["events"]][:2] == ["start", "load"]
    assert len(story["forecasts"]) == 60
    assert curve["time"][0] == began.timestamp() + 60
    assert max(curve["core_c"]) == 112.0


def test_cooks_come_page_by_page_the_newest_first(home: Home) -> None:
    for _ in range(3):
        cooked(home)
    with home.page() as page:
        viewer = page.viewer()
        first = viewer.told("/api/cooks?limit=2")
        rest = viewer.told(f"/api/cooks?limit=2&before={first['cooks'][-1]['id']}")
        none = viewer.told("/api/cooks?cooker=nobody")
    assert ([c["id"] for c in first["cooks"]], first["more"]) == ([3, 2], True)
    assert ([c["id"] for c in rest["cooks"]], rest["more"]) == ([1], False)
    assert none["cooks"] == []


def test_a_cook_is_a_recording_and_a_table(home: Home) -> None:
    cook = cooked(home)
    with home.page() as page:
        viewer = page.viewer()
        recording = viewer.get(f"/api/cooks/{cook.id}/recording.csv")
        table = viewer.get(f"/api/cooks/{cook.id}/table.csv")
    assert parse_recording(recording.text).header.cooker == "box"
    assert "attachment" in table.headers["content-disposition"]
    lines = table.text.splitlines()
    assert lines[0].startswith("time (America/Denver),pot °C,core °C,ambient °C,irradiance W/m²")
    assert lines[2].startswith("2026-06-03 01:01,80.0,112.0,,")
    assert len(lines) == 62


def test_health_names_the_probe_that_fails_and_its_cure(home: Home) -> None:
    now = home.clock.advance(1)
    home.store.write(now, Batch(samples=[Reading("box-pot", now.at, now.mono_s, 88.5)]))
    home.store.write(
        now, Batch(samples=[Fault("box-core", now.at, now.mono_s, FaultKind.CHECKSUM)])
    )
    fault = {"probe": "box-core", "fault": "checksum", "since": "2026-06-03T07:00:01Z"}
    state = {"time": "2026-06-03T07:00:01Z", "station": "garden", "faults": [fault]}
    with home.page() as page:
        page.hear("box/now", state)
        page.hear("health", health_payload("garden", now, 1, {}, {}, Backup(BACKED_UP)))
        health = page.viewer().told("/api/health")
    probes = {probe["name"]: probe for probe in health["probes"]}
    assert probes["box-pot"]["value"] == 88.5
    assert probes["box-pot"]["fault"] is None
    assert probes["box-core"]["cure"] == "check plug and pull-up"
    assert probes["shade"]["value"] is None
    assert health["store"]["problem"] is None
    assert health["store"]["bytes"] > 0
    assert health["backup"] == {
        "time": "2026-06-03T03:00:00Z",
        "problem": None,
        "compared": None,
    }


def test_health_tells_which_probes_are_calibrated_and_shows_their_true_values(home: Home) -> None:
    pot, core, _ = home.settings.station.probes
    now = home.clock.advance(1)
    points = [Point(0.0, 1.5, 0.02, 0.1)]
    made = [
        calibrated(pot.name, place_of(pot), now.at, points),
        calibrated(core.name, "elsewhere 1", now.at, points),
    ]
    home.store.write(
        now, Batch(samples=[Reading("box-pot", now.at, now.mono_s, 88.5)], calibrations=made)
    )
    with home.page() as page:
        probes = {p["name"]: p for p in page.viewer().told("/api/health")["probes"]}
    assert probes["box-pot"]["value"] == 87.0
    assert probes["box-pot"]["calibration"] == {
        "time": "2026-06-03T07:00:01Z",
        "due": False,
        "words": "calibrated on 2026-06-03",
    }
    assert probes["box-core"]["calibration"]["due"]
    assert "calibrated at another place" in probes["box-core"]["calibration"]["words"]
    assert probes["shade"]["calibration"]["words"].startswith("not calibrated")


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/cooks/0", 404),
        ("/api/cooks/99", 404),
        ("/api/cooks/99/curve", 404),
        ("/api/cooks/99/recording.csv", 404),
        ("/api/cooks/x", 404),
        ("/api/cooks/99999999999999999999", 404),
        ("/api/cooks/%00", 404),
        ("/api/cooks?before=0", 400),
        ("/api/cooks?limit=101", 400),
        ("/api/cooks?limit=%D9%A1", 400),
        ("/api/cookers/oven/curve", 404),
        ("/api/cookers/box/curve?since=tomorrow", 400),
        ("/api/cookers/box/curve?since=2026-06-03T08:00:00%2B02:00", 400),
        ("/api/cookers/box/curve?until=0", 400),
        ("/api/cookers/box/curve?since=9&until=9", 400),
        ("/api/cookers/box/curve?points=1", 400),
        ("/api/cookers/box/curve?since=0&until=7258118400", 200),
        ("/api/cookers/box/load", 405),
        ("/api/cooks/", 404),
        ("/nothing", 404),
        ("/static/nothing.js", 404),
        ("/static/..%2f..%2fboard.py", 404),
        ("/static/%00", 404),
    ],
)
def test_what_there_is_not_is_a_sentence(home: Home, path: str, status: int) -> None:
    with home.page() as page:
        answer = page.viewer().get(path)
    assert answer.status_code == status
    if status != 200:
        assert answer.json()["error"]


def test_the_routes_are_the_described_ones(home: Home) -> None:
    with home.page() as page:
        house = page.house
        made = routes(house, Doors(house.access, house.keys, house.life))
    found: set[tuple[str, str]] = set()
    for route in made:
        if isinstance(route, Route) and route.path.startswith(("/api/", "/metrics")):
            paths = [route.path.replace("{verb}", verb) for verb in Verb]
            found |= {(p, m) for p in paths for m in (route.methods or ()) if m != "HEAD"}
        else:
            assert isinstance(route, Route | Mount)
    told = {(path, method.upper()) for path, each in API["paths"].items() for method in each}
    assert found == told


def test_the_description_names_every_part_it_has() -> None:
    text = str(API)
    for kind in ("schemas", "responses", "parameters"):
        for name in API["components"][kind]:
            assert f"#/components/{kind}/{name}" in text, name
    named: list[Any] = re.findall(r"#/components/(\w+)/([\w-]+)", text)
    assert all(name in API["components"][kind] for kind, name in named)


def test_a_file_of_the_page_is_not_sent_twice(home: Home) -> None:
    with home.page() as page:
        viewer = page.viewer()
        first = viewer.get("/")
        again = viewer.get("/", headers={"If-None-Match": first.headers["etag"]})
    assert (first.status_code, again.status_code) == (200, 304)
