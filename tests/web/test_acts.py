"""What a person says on the page reaches the watch once, and the answer tells what came of it."""

from uuid import uuid4

import pytest

from broker import until
from noonpot.core.cook import Cook, EventKind
from noonpot.ports import Batch
from noonpot.web.limits import Limits
from web.homes import Home

SUN = {"azimuth_deg": 123.4, "elevation_deg": 45.6, "up": True}


@pytest.mark.parametrize(
    ("verb", "body", "kind", "detail"),
    [
        ("start", {"food": "bread"}, EventKind.START, {"food": "bread"}),
        ("load", {"mass_kg": 0.6}, EventKind.LOAD, {"mass_kg": "0.6"}),
        (
            "aim",
            {"azimuth": 100, "elevation": 40.5},
            EventKind.AIM,
            {"azimuth": "100", "elevation": "40.5"},
        ),
        ("mark", {"what": "lid"}, EventKind.LID, {}),
        ("mark", {"what": "spot", "core_c": 71}, EventKind.SPOT, {"core_c": "71"}),
        ("unload", {}, EventKind.UNLOAD, {}),
        ("stop", {}, EventKind.STOP, {}),
        ("shelve", {"alarm": "turn", "minutes": 5}, EventKind.SHELVE, None),
        ("acknowledge", {"alarm": "done"}, EventKind.ACKNOWLEDGE, {"alarm": "done"}),
    ],
)
def test_an_act_happens_and_is_answered(
    home: Home,
    verb: str,
    body: dict[str, object],
    kind: EventKind,
    detail: dict[str, str] | None,
) -> None:
    with home.watch() as watch, home.page() as page:
        answer = page.viewer().act(f"/api/cookers/box/{verb}", **body)
    assert answer.status_code == 200, answer.text
    assert answer.json()["text"] == f"box: {kind} noted"
    (event,) = watch.taken
    told = dict(event.detail)
    assert told.pop("uid") == answer.json()["letter"]
    assert (event.cooker, event.kind, event.at) == ("box", kind, home.clock.moment().at)
    assert detail is None or told == detail


def test_a_replay_is_answered_like_the_first_time_and_happens_once(home: Home) -> None:
    number = str(uuid4())
    with home.watch() as watch, home.page() as page:
        viewer = page.viewer()
        first = viewer.act("/api/cookers/box/start", id=number, food="bread")
        again = viewer.act("/api/cookers/box/start", id=number, food="bread")
    assert (again.status_code, again.json()) == (200, first.json())
    assert len(watch.taken) == 1


def test_a_replay_is_known_after_the_page_was_started_anew(home: Home) -> None:
    number = str(uuid4())
    with home.watch() as watch:
        with home.page() as page:
            first = page.viewer().act("/api/cookers/box/start", id=number)
        home.clock.advance(60)
        with home.page() as page:
            again = page.viewer().act("/api/cookers/box/start", id=number)
    assert again.status_code == 200
    assert again.json()["letter"] == first.json()["letter"]
    assert len(watch.taken) == 1


def test_a_letter_that_still_waits_is_known_as_well(home: Home) -> None:
    number = str(uuid4())
    for _ in range(2):
        with home.page(limits=Limits(answer_s=0.1)) as page:
            answer = page.viewer().act("/api/cookers/box/start", id=number)
            assert answer.status_code == 202
        home.clock.advance(60)
    assert len(list(home.inbox.glob("*.json"))) == 1


def test_what_the_watch_refuses_is_a_409_with_its_reason_also_again(home: Home) -> None:
    number = str(uuid4())
    with home.watch() as watch, home.page() as page:
        watch.refuses["unload"] = "unload of box: nothing is in the pot"
        answers = [page.viewer().act("/api/cookers/box/unload", id=number) for _ in range(2)]
    for answer in answers:
        assert answer.status_code == 409
        assert answer.json() == {"error": "unload of box: nothing is in the pot"}


def test_without_a_watch_the_letter_waits_and_that_is_said(home: Home) -> None:
    with home.page(limits=Limits(answer_s=0.1)) as page:
        answer = page.viewer().act("/api/cookers/box/start")
    assert answer.status_code == 202
    assert "no watch has taken it yet" in answer.json()["text"]
    assert (home.inbox / f"{answer.json()['letter']}.json").exists()


def test_turned_is_an_aim_at_the_sun_as_the_watch_knows_it(home: Home) -> None:
    with home.watch() as watch, home.page() as page:
        viewer = page.viewer()
        unknown = viewer.act("/api/cookers/box/mark", what="turned")
        page.hear("box/now", {"time": "2026-06-03T07:00:00Z", "station": "garden", "sun": SUN})
        known = viewer.act("/api/cookers/box/mark", what="turned")
    assert (unknown.status_code, known.status_code) == (409, 200)
    (event,) = watch.taken
    assert event.kind is EventKind.AIM
    assert event.number("azimuth") == 123.4
    assert event.number("elevation") == 45.6


def test_undo_names_the_letter_and_is_an_event_of_its_cooker(home: Home) -> None:
    with home.watch() as watch, home.page() as page:
        viewer = page.viewer()
        letter = viewer.act("/api/cookers/box/start").json()["letter"]
        undone = viewer.act("/api/undo", letter=letter)
        unknown = viewer.act("/api/undo", letter="../../etc/passwd")
    assert (undone.status_code, unknown.status_code) == (200, 404)
    assert [event.kind for event in watch.taken] == [EventKind.START, EventKind.UNDO]
    assert watch.taken[-1].detail["letter"] == letter


def test_what_still_waits_can_be_undone_and_is_taken_before_its_undo(home: Home) -> None:
    with home.page(limits=Limits(answer_s=0.1)) as page:
        viewer = page.viewer()
        start = viewer.act("/api/cookers/box/start", id="zzzz-zzzz").json()["letter"]
        home.clock.advance(-30)  # set back meanwhile
        undone = viewer.act("/api/undo", id="aaaa-aaaa", letter=start)
        assert undone.status_code == 202, undone.text
        assert undone.json()["text"].startswith("box: undo handed in")
    with home.watch() as watch:
        until(lambda: len(watch.taken) == 2, "both are taken")
    assert [event.kind for event in watch.taken] == [EventKind.START, EventKind.UNDO]
    assert watch.taken[-1].detail["letter"] == start


@pytest.mark.parametrize("letter", ["../kept", "nothing", "..", "a\\b", "damaged"])
def test_only_what_stands_in_the_inbox_can_be_undone(home: Home, letter: str) -> None:
    with home.page(limits=Limits(answer_s=0.1)) as page:
        viewer = page.viewer()
        name = viewer.act("/api/cookers/box/start").json()["letter"]
        (home.inbox / f"{name}.json").rename(home.inbox.parent / "kept.json")
        (home.inbox / "damaged.json").write_text("{")
        assert viewer.act("/api/undo", letter=letter).status_code == 404


def test_a_verdict_is_about_a_cook_of_this_cooker(home: Home) -> None:
    began = home.clock.moment().at
    (cook,) = home.store.write(
        home.clock.moment(), Batch(cooks=[Cook("box", began, "bread", stopped_at=began)])
    )
    home.store.write(home.clock.advance(60), Batch(cooks=[Cook("box", began, "rice")]))
    with home.watch(), home.page() as page:
        viewer = page.viewer()
        first = viewer.act("/api/cookers/box/verdict", cook=2, rating=2)
        second = viewer.act("/api/cookers/box/verdict", cook=2, rating=4, crumb="moist")
        other = viewer.act("/api/cookers/box/verdict", cook=77)
        told = viewer.told("/api/cooks/2")["verdict"]
    assert cook.id == 1
    assert [a.status_code for a in (first, second, other)] == [200, 200, 404]
    assert told == {
        "rating": 4,
        "crumb": "moist",
        "browning": None,
        "text": None,
        "time": "2026-06-03T07:01:00Z",
    }


WRONG: list[tuple[str, dict[str, object], int]] = [
    ("/api/cookers/oven/start", {}, 404),
    ("/api/cookers/box/fly", {}, 404),
    ("/api/cookers/station/start", {}, 404),
    ("/api/cookers/box/start", {"id": "short"}, 400),
    ("/api/cookers/box/start", {"id": "../../../../x"}, 400),
    ("/api/cookers/box/start", {"id": 12345678}, 400),
    ("/api/cookers/box/start", {"food": "bred"}, 400),
    ("/api/cookers/box/start", {"more": 1}, 400),
    ("/api/cookers/box/load", {"mass_kg": "much"}, 400),
    ("/api/cookers/box/load", {"meal": "9999-12-31T23:59:59Z"}, 400),
    ("/api/cookers/box/mark", {"what": "turned", "azimuth": 1}, 400),
    ("/api/cookers/box/mark", {"what": "note", "text": "a\nb"}, 400),
    ("/api/cookers/box/mark", {}, 400),
    ("/api/cookers/box/shelve", {"alarm": "turn", "minutes": 500}, 400),
    ("/api/undo", {"letter": 1}, 400),
    ("/api/plan", {}, 400),
    ("/api/plan", {"food": "bread", "left": 1}, 400),
    ("/api/plan", {"food": "bread", "mass_kg": "much"}, 400),
]


@pytest.mark.parametrize(("path", "body", "status"), WRONG)
def test_what_cannot_be_is_refused_and_nothing_is_handed_in(
    home: Home, path: str, body: dict[str, object], status: int
) -> None:
    with home.page() as page:
        viewer = page.viewer()
        said = viewer.post(path, body) if "plan" in path else viewer.act(path, **body)
    assert said.status_code == status
    assert said.json()["error"]
    assert list(home.inbox.glob("*.json")) == []


def test_the_alarms_of_the_station_are_answered_too(home: Home) -> None:
    with home.watch() as watch, home.page() as page:
        answer = page.viewer().act("/api/cookers/station/acknowledge", alarm="clock")
    assert answer.status_code == 200
    assert watch.taken[0].cooker == "station"


def test_an_inbox_that_takes_nothing_is_a_503(home: Home) -> None:
    with home.page() as page:
        viewer = page.viewer()
        home.inbox.rmdir()
        answer = viewer.act("/api/cookers/box/start")
    assert answer.status_code == 503
    assert "is the daemon set up" in answer.json()["error"]


def test_a_plan_is_that_of_the_command_line(home: Home) -> None:
    with home.page() as page:
        viewer = page.viewer()
        asked = {"food": "bread", "mass_kg": 0.6, "sky": "clear", "meal": "18:00"}
        answer = viewer.post("/api/plan", asked)
        wrong = viewer.post("/api/plan", {"food": "bred"})
        strange = viewer.post("/api/plan", {"food": "bread", "on": "0001-01-01"})
    assert answer.status_code == 200, answer.text
    (plan,) = answer.json()["plans"]
    assert (plan["cooker"], plan["food"], plan["mass_kg"]) == ("box", "bread", 0.6)
    assert plan["hours"]
    assert (wrong.status_code, strange.status_code) == (400, 400)
    assert "did you mean bread" in wrong.json()["error"]
