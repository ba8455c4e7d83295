"""The live stream: all that is shown, then the news, and whether the watch still speaks."""

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest

from broker import until
from fakes import FakeClock
from noonpot.web import looking
from noonpot.web.board import SILENT_S, Board
from noonpot.web.limits import Limits
from web.homes import Home, Page

NOW = {"time": "2026-06-03T07:00:00Z", "station": "garden", "pot_c": 80.0}
ALARM = {"time": "2026-06-03T07:00:05Z", "station": "garden", "alarm": "done"}
ALERT = {"id": "a-1", "time": "2026-06-03T07:00:06Z", "station": "garden", "text": "box: done"}


class Stream:
    """What a viewer has heard, as (event, data)."""

    def __init__(self, page: Page) -> None:
        self.heard: list[tuple[str, dict[str, Any]]] = []
        self._client = page.viewer().client
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        with self._client.stream("GET", "/api/live") as stream:
            kind = ""
            for line in stream.iter_lines():
                if line.startswith("event: "):
                    kind = line.removeprefix("event: ")
                if line.startswith("data: "):
                    self.heard.append((kind, json.loads(line.removeprefix("data: "))))

    def shows(self, kind: str, body: dict[str, Any]) -> None:
        until(lambda: (kind, body) in self.heard, f"{kind} {body}")

    def join(self) -> None:
        self._thread.join(10)
        assert not self._thread.is_alive()


@contextmanager
def streaming(page: Page, number: int = 1) -> Iterator[list[Stream]]:
    streams = [Stream(page) for _ in range(number)]
    try:
        yield streams
    finally:
        page.end_streams()
        for stream in streams:
            stream.join()


def test_first_comes_all_that_is_shown_then_the_news(home: Home) -> None:
    with home.page() as page:
        page.hear("box/now", NOW)
        page.hear("box/alarm/done", ALARM)
        page.hear("alert", ALERT)  # nobody looked: it is not kept
        with streaming(page) as (stream,):
            stream.shows("shown", {"topic": "box/alarm/done", "payload": ALARM})
            stream.shows("feed", {"alive": True})
            first = {"topic": "box/now", "payload": NOW}
            assert next(body for kind, body in stream.heard if kind == "shown") == first
            newer = {**NOW, "pot_c": 81.0}
            page.hear("box/now", newer)
            page.hear("alert", ALERT)
            stream.shows("shown", {"topic": "box/now", "payload": newer})
            stream.shows("alert", ALERT)
        now = page.viewer().told("/api/now")
    assert now["time"] == ALARM["time"]
    assert now["topics"] == {"box/now": newer, "box/alarm/done": ALARM}


def test_several_look_at_once_and_each_hears_everything(home: Home) -> None:
    with home.page() as page, streaming(page, 5) as streams:
        until(lambda: page.house.board.viewers == 5, "all look")
        page.hear("box/now", NOW)
        for stream in streams:
            stream.shows("shown", {"topic": "box/now", "payload": NOW})


def test_so_many_may_look_and_the_next_is_told_so(home: Home) -> None:
    with home.page(limits=Limits(viewers=1)) as page, streaming(page):
        until(lambda: page.house.board.viewers == 1, "one looks")
        answer = page.viewer().get("/api/live")
        assert answer.status_code == 429


def test_who_goes_away_is_forgotten(home: Home) -> None:
    with home.page() as page:
        with streaming(page):
            until(lambda: page.house.board.viewers == 1, "one looks")
        until(lambda: page.house.board.viewers == 0, "nobody looks")


def test_a_silent_watch_is_said_and_a_beat_ends_it() -> None:
    life = FakeClock()
    board = Board(life)
    assert not board.alive
    board.hear("beat", {})
    assert board.alive
    assert board.topics == {}
    life.advance(SILENT_S)
    assert board.alive
    life.advance(0.1)
    assert not board.alive
    board.hear("box/now", NOW)
    assert board.alive


def test_a_viewer_that_takes_nothing_is_let_go_and_no_trace_is_logged(
    home: Home, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(looking, "PATIENCE_S", 0.2)
    with home.page() as page:
        split = urlsplit(page.address)
        with socket.create_connection((split.hostname, split.port)) as line:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            line.sendall(b"GET /api/live HTTP/1.1\r\nHost: localhost\r\n\r\n")
            until(lambda: page.house.board.viewers == 1, "it looks")

            def gone() -> bool:
                for number in range(20):
                    page.hear(f"box/alarm/a-{number}", {"time": "x" * 100_000, "station": "x"})
                return page.house.board.viewers == 0

            until(gone, "it is let go")
        assert page.viewer().get("/api/station").status_code == 200
    said = [r for r in caplog.records if r.name == "uvicorn.error"]
    assert len(said) <= 1
    assert not any(record.exc_info for record in said)
