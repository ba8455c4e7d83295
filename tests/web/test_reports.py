"""The report of a cook over HTTP: whole, under a policy of its own, one at a time."""

import threading
from dataclasses import replace
from typing import Any

import httpx

from broker import until
from noonpot.core.reportframe import POLICY
from noonpot.web.history import MOST_WAITING
from web.homes import Home
from web.test_looking import cooked


class Slow:
    """An archive whose reports take until somebody lets them go."""

    def __init__(self, archive: Any) -> None:
        self._archive = archive
        self.go = threading.Event()
        self.at_work = self.most_at_work = 0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._archive, name)

    def report(self, cook: int) -> str:
        self.at_work += 1
        self.most_at_work = max(self.most_at_work, self.at_work)
        self.go.wait(30)
        self.at_work -= 1
        return f"cook {cook}"


def test_a_report_is_a_page_under_the_strictest_policy(home: Home) -> None:
    cook = cooked(home)
    with home.page() as page:
        viewer = page.viewer()
        answer = viewer.get(f"/api/cooks/{cook.id}/report.html")
        other = viewer.get("/api/station")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.headers["content-security-policy"] == POLICY
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "'self'" in other.headers["content-security-policy"]
    assert "<h1>Bread in box</h1>" in answer.text
    assert "<img" not in answer.text
    assert "&lt;img onerror=alert(1)&gt;" in answer.text


def test_there_is_none_of_a_cook_that_never_was(home: Home) -> None:
    with home.page() as page:
        answer = page.viewer().get("/api/cooks/99/report.html")
    assert answer.status_code == 404
    assert "there is no cook" in answer.json()["error"]


def test_a_stranger_in_the_house_net_sees_none(home: Home) -> None:
    cook = cooked(home)
    with home.page(lan=True) as page:
        assert page.viewer().get(f"/api/cooks/{cook.id}/report.html").status_code == 401


def test_reports_are_made_one_after_the_other_and_few_may_wait(home: Home) -> None:
    cook = cooked(home)
    with home.page(change=lambda house: replace(house, archive=Slow(house.archive))) as page:
        slow = page.house.archive
        assert isinstance(slow, Slow)
        answers: list[httpx.Response] = []

        def ask() -> None:
            answers.append(page.viewer().get(f"/api/cooks/{cook.id}/report.html"))

        people = [threading.Thread(target=ask) for _ in range(MOST_WAITING + 2)]
        for person in people:
            person.start()
        until(lambda: len(answers) == 2, "two were sent away")
        assert {answer.status_code for answer in answers} == {429}
        assert page.viewer().get("/api/station").status_code == 200
        slow.go.set()
        for person in people:
            person.join()
    assert sorted(answer.status_code for answer in answers) == [200] * MOST_WAITING + [429] * 2
    assert slow.most_at_work == 1
