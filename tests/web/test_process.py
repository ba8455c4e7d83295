"""The whole way: ``noonpot run`` with its page, as a person uses it."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import psutil
import pytest

from broker import free_port, listens, until
from noonpot.clock import FastClock, SystemClock
from noonpot.core.moment import utc
from web.homes import CONFIG, START, Home, Viewer, page_process

CLOCK, NEVER = SystemClock(), threading.Event()


class Station:
    """A daemon in a process of its own, in a folder of its own."""

    def __init__(self, folder: Path, page: str) -> None:
        self.port = free_port()
        self.log = folder / "log"
        config = folder / "noonpot.toml"
        poll = "[poll]\ninterval_s = 0.5\ncommit_s = 1\n"
        config.write_text(f"{CONFIG}{poll}[page]\nport = {self.port}\n{page}")
        command = [sys.executable, "-m", "noonpot", "run", "--config", str(config)]
        with self.log.open("wb") as log:
            self._process = subprocess.Popen(command, stdout=log, stderr=log)
        self.client = httpx.Client(base_url=f"http://localhost:{self.port}", timeout=30)
        self.viewer = Viewer(self.client)

    def page(self) -> psutil.Process | None:
        """The process of the page, None while there is none."""
        found = [
            child
            for child in psutil.Process(self._process.pid).children()
            if "noonpot.app.pageprocess" in child.cmdline()
        ]
        return found[0] if found else None

    def answers(self) -> bool:
        try:
            return self.client.get("/api/station").status_code == 200
        except httpx.TransportError:
            return False

    def wait(self) -> None:
        """Until the page answers: a small machine with much to do takes a while for that."""
        end_s = CLOCK.moment().mono_s + 40
        while not self.answers():
            assert self._process.poll() is None, self.log.read_text()
            assert CLOCK.moment().mono_s < end_s, self.log.read_text()
            CLOCK.wait(NEVER, 0.05)

    def end(self) -> int:
        self.client.close()
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGTERM)
        return self._process.wait(20)


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    made = Station(tmp_path_factory.mktemp("station"), "")
    try:
        made.wait()
        yield made
    finally:
        made.end()


def test_a_cook_from_start_to_stop_with_a_slip_of_the_finger(station: Station) -> None:
    viewer = station.viewer
    start = viewer.act("/api/cookers/box/start", food="bread")
    assert start.status_code == 200, start.text
    assert viewer.act("/api/cookers/box/mark", what="lid").status_code == 200
    slip = viewer.act("/api/cookers/box/load", food="stew", mass_kg=1.5).json()
    assert viewer.act("/api/undo", letter=slip["letter"]).status_code == 200
    empty = viewer.act("/api/cookers/box/unload")
    assert (empty.status_code, empty.json()["error"]) == (
        409,
        "unload of box: nothing is in the pot",
    )
    assert viewer.act("/api/cookers/box/load", mass_kg=0.6).status_code == 200
    until(lambda: "box/now" in viewer.told("/api/now")["topics"], "the cooker is shown")

    def shown() -> dict[str, Any]:
        found = viewer.told("/api/now")["topics"]["box/now"]["cook"]
        return found if isinstance(found, dict) else {}

    until(lambda: bool(shown().get("loaded_at")), "the load is shown")
    assert shown()["food"] == "bread"
    assert viewer.act("/api/cookers/box/stop").status_code == 200
    (cook,) = viewer.told("/api/cooks")["cooks"]
    story = viewer.told(f"/api/cooks/{cook['id']}")
    assert cook["stopped"] is not None
    assert [e["kind"] for e in story["events"]].count("load") == 1
    assert any("taken back: load" in str(e["detail"]) for e in story["events"])


def test_the_feed_is_alive_and_news_come_by_themselves(station: Station) -> None:
    heard: list[str] = []
    with station.client.stream("GET", "/api/live") as stream:
        for line in stream.iter_lines():
            heard.append(line)
            if sum('"box/now"' in each for each in heard) >= 3:
                break
    assert 'data: {"alive":true}' in heard


def test_a_page_that_dies_is_started_again_and_the_watch_goes_on(station: Station) -> None:
    before = station.page()
    assert before is not None
    until(lambda: station.viewer.told("/api/now")["time"] is not None, "the watch is heard")
    sequence = station.viewer.told("/api/now")["time"]
    os.kill(before.pid, signal.SIGKILL)
    before.wait(10)
    station.wait()
    after = station.page()
    assert after is not None
    assert after.pid != before.pid
    until(lambda: "box/now" in station.viewer.told("/api/now")["topics"], "all is shown again")
    assert station.viewer.told("/api/now")["time"] >= sequence
    assert "the page ended with code -9" in station.log.read_text()


def test_a_page_ends_when_its_daemon_does(home: Home) -> None:
    port = free_port()
    with page_process(home.config, home.settings.data, port) as process:
        until(lambda: listens(port) or process.poll() is not None, "the page is there")
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(10) == 0


@pytest.mark.parametrize("told", [False, True])
def test_a_port_that_is_taken_is_said_once(home: Home, told: bool) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with page_process(home.config, home.settings.data, taken, told=told) as process:
            assert process.wait(20) == 1
            assert process.stderr is not None
            words = process.stderr.read().decode()
    assert ("give bind and port under [page]" in words) is not told


def test_a_simulated_clock_shows_the_same_in_both_processes(home: Home) -> None:
    port, clock = free_port(), FastClock(START, 1000.0)
    clock.go()
    simulated = {"start": START.isoformat(), "rate": 1000.0, "origin_s": clock.origin_s}
    with page_process(home.config, home.settings.data, port, clock=simulated) as process:
        until(lambda: listens(port) or process.poll() is not None, "the page is there")
        curve = httpx.get(f"http://localhost:{port}/api/cookers/box/curve").json()
    assert abs((utc(curve["until"]) - clock.moment().at).total_seconds()) < 10_000


def test_in_the_home_network_the_code_in_the_log_opens_the_door(tmp_path: Path) -> None:
    made = Station(tmp_path, 'bind = "0.0.0.0"\n')
    try:
        made.wait()
        (code,) = re.findall(r"the code to choose one is (\S+)", made.log.read_text())
        viewer = made.viewer
        assert viewer.told("/api/station")["viewer"]["first_run"] is True
        secret = f"a passphrase of {uuid4()}"
        chosen = viewer.post("/api/passphrase", {"code": code, "passphrase": secret})
        assert chosen.status_code == 200, chosen.text
        link = viewer.post("/api/shares", {"name": "neighbour"}).json()["path"]
        assert viewer.get(link).status_code == 303
        assert viewer.act("/api/cookers/box/start").status_code == 200
        session = viewer.client.cookies["noonpot"]
        page = made.page()
        assert page is not None
        page.suspend()  # a page that hangs holds up nobody who wants to stop
    finally:
        begun_s = CLOCK.moment().mono_s
        assert made.end() == 0
    assert CLOCK.moment().mono_s - begun_s < 15
    assert not page.is_running() or page.status() == psutil.STATUS_ZOMBIE
    log = made.log.read_text()
    for hidden in (secret, link.removeprefix("/s/"), session):
        assert hidden not in log
