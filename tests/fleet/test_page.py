"""The page of many stations, in a real browser and by hand."""

import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta

import httpx
import pytest
from playwright.sync_api import ViewportSize, expect, sync_playwright

from broker import free_port, until
from browser.viewer import DEADLINE_MS, SMALL_PHONE, launched, viewing
from fleet.play import alarm, body, facts, garden, status
from noonpot.app.fleetserving import PageServer
from noonpot.clock import SystemClock
from noonpot.core.advice import Advice
from noonpot.core.moment import Moment
from noonpot.core.payloads import Payload, now_payload
from noonpot.errors import NotifierError
from noonpot.fleet.board import Board
from noonpot.fleet.gallery import MOST_VIEWERS

CLOCK = SystemClock()
DESK_SIZE = ViewportSize(width=1280, height=800)
HOSTILE = "<img src=x onerror=\"document.title='taken'\"><script>document.title='taken'</script>"


class Told:
    """A board that is told by hand, and a line to the broker that may be cut."""

    def __init__(self) -> None:
        self.board = Board(CLOCK)
        self.problem = ""

    def hear(self, topic: str, payload: Payload, *, stored: bool = False) -> None:
        self.board.hear(topic, body(payload), stored)

    def play(self) -> None:
        """A garden that cooks, and an orchard that has gone two hours ago, with food in its pot."""
        now = CLOCK.moment().at
        for topic, payload in garden(now).items():
            self.hear(topic, payload)
        old = now - timedelta(hours=2)
        gone = {**status(online=False, last_will=True, at=old), "station": "orchard"}
        stand = now_payload("orchard", facts(at=old, pot_c=61.0), Moment(old, 0.0), Advice("Wait."))
        self.hear("noonpot/orchard/status", gone, stored=True)
        self.hear("noonpot/orchard/box/now", stand, stored=True)


@contextmanager
def served(told: Told) -> Iterator[str]:
    """The page on a real server in a thread of its own, at a free port."""
    server = PageServer(told.board, lambda: told.problem, CLOCK, 0, "C")
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        until(lambda: _answers(server.address), "the page is served")
        yield server.address
    finally:
        server.stop()
        thread.join(10)
        assert not thread.is_alive()


def _answers(address: str) -> bool:
    try:
        return httpx.get(address).status_code == 200
    except httpx.TransportError:
        return False


def test_the_page_lives_greys_what_is_old_and_reads_no_text_as_markup() -> None:
    told = Told()
    told.play()
    with served(told) as address, sync_playwright() as playwright:
        expect.set_options(timeout=DEADLINE_MS)
        browser = launched(playwright)
        with viewing(browser, address, SMALL_PHONE) as viewer:
            viewer.page.goto(address)
            rows = viewer.page.locator(".line")
            expect(rows).to_have_count(2)
            expect(rows.nth(0)).to_contain_text("orchard / box")
            expect(rows.nth(0)).to_contain_text("offline since")
            expect(rows.nth(0)).to_contain_text("numbers 2 h old")
            expect(rows.nth(0)).to_have_class("line old loud")
            expect(rows.nth(1)).to_have_class("line loud")
            expect(rows.nth(1)).to_contain_text("124 °C")
            now = CLOCK.moment().at
            told.hear("noonpot/garden/box/alarm/done", alarm(text=HOSTILE * 3, at=now))
            late = now_payload("garden", facts(at=now, pot_c=98.0), Moment(now, 0.0), Advice("-"))
            told.hear("noonpot/garden/box/now", late)
            expect(rows.nth(1)).to_contain_text("98 °C")
            expect(viewer.page.locator(".alarm")).to_contain_text("<img src=x onerror")
            assert viewer.page.title() == "Stations · Noonpot"
            assert viewer.page.locator(".line img, .line script").count() == 0
            assert viewer.sideways_px() == 0
            viewer.page.set_viewport_size(DESK_SIZE)
            assert viewer.sideways_px() == 0
            told.problem = "the connection to the broker broke"
            expect(viewer.page.locator("#strip")).to_have_text(told.problem)
            expect(rows.nth(1)).to_have_class("line old loud")
        browser.close()


@pytest.fixture
def address() -> Iterator[str]:
    told = Told()
    told.play()
    with served(told) as where:
        yield where


def test_the_page_is_small_and_tells_browsers_to_ask_nobody_else(address: str) -> None:
    sizes = 0
    for path in ("/", "/stations.css", "/stations.js", "/favicon.svg", "/api/stations"):
        answer = httpx.get(f"{address}{path}")
        assert answer.status_code == 200
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        sizes += len(answer.content)
    assert sizes < 20_000
    told = httpx.get(f"{address}/api/stations").json()
    assert told["order"] == ["orchard/box", "garden/box"]
    assert told["lines"]["garden/box"]["pot_c"] == 124.31
    assert told["counts"] == {"heard": 7, "shown": 7}


def test_the_page_answers_to_no_name_of_somebody_else_and_takes_no_change(address: str) -> None:
    for name in ("evil.example", "evil.example:80", "", "localhost.evil.example", "[::1"):
        assert httpx.get(address, headers={"host": name}).status_code in (400, 421)
    assert httpx.get(address, headers={"host": "127.0.0.1:9"}).status_code == 200
    assert httpx.post(f"{address}/api/stations").status_code == 405
    assert httpx.get(f"{address}/../stations.py").status_code == 404


def test_only_so_many_may_look_at_once_and_room_is_made_again(address: str) -> None:
    limits = httpx.Limits(max_connections=None)
    looking: list[Iterator[str]] = []
    with httpx.Client(limits=limits) as client, ExitStack() as crowd:
        for _ in range(MOST_VIEWERS):
            stream = crowd.enter_context(client.stream("GET", f"{address}/api/live"))
            looking.append(stream.iter_lines())  # held, for it hangs up when it is let go
            assert next(looking[-1]) == "event: stations"
        assert httpx.get(f"{address}/api/live").status_code == 429
        assert httpx.get(f"{address}/api/stations").status_code == 200
        crowd.close()
        until(lambda: _may_look(address), "there is room again")


def _may_look(address: str) -> bool:
    with httpx.stream("GET", f"{address}/api/live") as answer:
        return answer.status_code == 200


def test_a_port_that_is_taken_is_told(address: str) -> None:
    port = int(address.rpartition(":")[2])
    assert port != free_port()
    with pytest.raises(NotifierError, match="give --port a port that nothing else uses"):
        PageServer(Board(CLOCK), lambda: "", CLOCK, port, "C")
