"""What a cooker can do, over HTTP: as described, one at a time, and not reckoned twice."""

import os
import threading
from dataclasses import replace
from datetime import date
from pathlib import Path

import httpx
import pytest

from broker import until
from noonpot.app.daytables import day_tables
from noonpot.app.pagerating import RatingProcess
from noonpot.app.seasons import MIDDLE
from noonpot.errors import RequestError
from noonpot.web.ratings import MOST_WAITING
from web.homes import Home
from web.rated import Rater
from web.test_looking import cooked


def test_a_cooker_is_rated_in_a_process_of_its_own(home: Home) -> None:
    cooked(home)
    with home.page() as page:
        told = page.viewer().told("/api/cookers/box/rating")
    assert told["cooker"] == "box"
    assert told["profile"]["cooks"] == 0  # an hour without an air probe tells nothing
    assert told["power"]["power_w"] is None
    assert "intervals" not in told["power"]
    assert told["merit"]["f1_m2k_w"] is None


def test_a_table_is_of_the_sky_that_was_asked_for(home: Home) -> None:
    rater = Rater()
    with home.page(change=lambda house: replace(house, rating=rater)) as page:
        viewer = page.viewer()
        assert viewer.told("/api/cookers/box/foods")["sky"] == "clear"
        told = viewer.told("/api/cookers/box/foods?sky=broken")
        answer = viewer.get("/api/cookers/box/foods?sky=blue")
    assert [cell["month"] for cell in told["cells"]] == list(range(1, 13))
    assert told["foods"] == [{"food": "bread", "mass_kg": 0.8, "caution": ""}]
    assert rater.asked == [("box", "clear"), ("box", "broken")]
    assert answer.status_code == 400
    assert answer.json()["error"] == "sky is 'blue', but must be clear, thin, broken"


def test_there_is_none_of_a_cooker_that_there_is_not(home: Home) -> None:
    with home.page(change=lambda house: replace(house, rating=Rater())) as page:
        for what in ("rating", "foods"):
            answer = page.viewer().get(f"/api/cookers/bx/{what}")
            assert (answer.status_code, "no cooker 'bx'" in answer.text) == (404, True)


def test_a_stranger_in_the_house_net_has_nothing_reckoned(home: Home) -> None:
    rater = Rater()
    with home.page(lan=True, change=lambda house: replace(house, rating=rater)) as page:
        assert page.viewer().get("/api/cookers/box/foods").status_code == 401
    assert rater.asked == []


def test_it_is_reckoned_anew_after_a_cook_and_on_another_day(home: Home) -> None:
    rater = Rater()
    with home.page(change=lambda house: replace(house, rating=rater)) as page:
        viewer = page.viewer()
        for _ in range(2):
            viewer.told("/api/cookers/box/rating")
        assert len(rater.asked) == 1
        cooked(home)
        for _ in range(2):
            viewer.told("/api/cookers/box/rating")
        assert len(rater.asked) == 2
        home.clock.advance(86_400)
        for _ in range(2):
            viewer.told("/api/cookers/box/rating")
    assert len(rater.asked) == 3


def test_ratings_are_made_one_after_the_other_and_few_may_wait(home: Home) -> None:
    rater = Rater(at_once=False)
    paths = ["/api/cookers/box/rating"]
    paths += [f"/api/cookers/box/foods?sky={sky}" for sky in ("clear", "thin", "broken")]
    with home.page(change=lambda house: replace(house, rating=rater)) as page:
        answers: list[httpx.Response] = []

        def ask(path: str) -> None:
            answers.append(page.viewer().get(path))

        people = [threading.Thread(target=ask, args=[p]) for p in (*paths, *paths[:2])]
        for person in people:
            person.start()
        until(lambda: len(answers) == 2, "two were sent away")
        assert {answer.status_code for answer in answers} == {429}
        assert page.viewer().get("/api/station").status_code == 200
        rater.go.set()
        for person in people:
            person.join()
    assert sorted(answer.status_code for answer in answers) == [200] * MOST_WAITING + [429] * 2
    assert rater.most_at_work == 1


def test_what_fails_is_told_and_not_kept(home: Home) -> None:
    with home.page() as page:
        said = home.config.read_text()
        home.config.write_text("nonsense")
        answer = page.viewer().get("/api/cookers/box/rating")
        home.config.write_text(said)
        assert page.viewer().get("/api/cookers/box/rating").status_code == 200
    assert answer.status_code == 503
    assert "noonpot.toml" in answer.json()["error"]


def test_a_table_that_takes_too_long_is_ended_with_all_who_reckon_for_it(
    home: Home, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "of this test"))
    days = [date(home.clock.moment().at.year, month, MIDDLE) for month in range(1, 13)]
    day_tables().days(home.settings.station.place, days)  # so that what takes long comes soon
    process = RatingProcess(home.config, home.settings.data, lambda: home.clock.moment().at, 8)
    refused: list[str] = []

    def ask() -> None:
        try:
            process.foods("box", "clear")
        except RequestError as error:
            refused.append(str(error))

    asking = threading.Thread(target=ask)
    asking.start()
    until(lambda: len(at_work(tmp_path)) > 2, "several reckon")
    asking.join()
    assert refused == ["not done within 8 s; ask again, or when the station has less to do"]
    until(lambda: not at_work(tmp_path), "all of them have ended")


def at_work(folder: Path) -> list[str]:
    """The processes that keep what they make in this folder."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if str(folder / "of this test").encode() in (process / "environ").read_bytes():
                found.append(process.name)
        except OSError:  # it is another's, or has just ended
            continue
    return [name for name in found if name != str(os.getpid())]
