"""A station with its page on a real port: a real data file, a real inbox, and a stand-in for the
watch that takes letters when it is told to.
"""

import asyncio
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self
from uuid import uuid4

import httpx

from fakes import FakeClock
from noonpot.app.hearing import INBOX
from noonpot.app.machine import open_store
from noonpot.app.pagehouse import Serving, house
from noonpot.app.pageprocess import bound_to, server_of
from noonpot.clock import SystemClock
from noonpot.core.cook import Event
from noonpot.core.moment import utc
from noonpot.ports import Batch, Clock
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.inbox import FileInbox
from noonpot.store.sqlite import Store
from noonpot.web.house import House
from noonpot.web.limits import Limits
from web.described import hold

START = utc("2026-06-03T07:00:00Z")
LOOPBACK = "127.0.0.1"
CODE = "ABCD-EFGH"
CONFIG = """
[station]
name = "garden"
latitude = 40
longitude = -105
elevation_m = 1600
timezone = "America/Denver"
data = "data"
[[bus]]
name = "garden"
driver = "simulated"
sky = "clear"
seed = 1
cookers = [{ name = "box", kind = "box", pot = "light" }]
[[cooker]]
name = "box"
[[probe]]
name = "box-pot"
role = "pot"
bus = "garden"
address = "box/pot"
cooker = "box"
[[probe]]
name = "box-core"
role = "core"
bus = "garden"
address = "box/core"
cooker = "box"
[[probe]]
name = "shade"
role = "ambient"
bus = "garden"
address = "ambient"
"""


class Watch:
    """Takes every letter into the store, but for what is to be refused."""

    def __init__(self, folder: Path, store: Store, clock: Clock) -> None:
        self.taken: list[Event] = []
        self.refuses: dict[str, str] = {}
        self._inbox = FileInbox(folder, store.knows_event)
        self._store = store
        self._clock = clock
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stop.wait(0.02):
            for letter in self._inbox.take():
                if letter.event.kind in self.refuses:
                    self._inbox.refuse(letter, self.refuses[letter.event.kind])
                    continue
                self._store.write(self._clock.moment(), Batch(events=[letter.event]))
                self.taken.append(letter.event)
                self._inbox.done(letter)


@dataclass
class Home:
    """The station: its clock stands still until moved."""

    settings: Settings
    store: Store
    clock: FakeClock
    config: Path
    inbox: Path = field(init=False)

    def __post_init__(self) -> None:
        self.inbox = self.settings.data / INBOX
        self.inbox.mkdir(exist_ok=True)

    def watch(self) -> Watch:
        return Watch(self.inbox, self.store, self.clock)

    @contextmanager
    def page(
        self,
        *,
        lan: bool = False,
        code: str | None = None,
        limits: Limits | None = None,
        change: Callable[[House], House] = lambda house: house,
    ) -> Iterator["Page"]:
        """The page on a free port of this computer; ``lan`` as if the home network reached it, with
        a ``change`` of what stands behind it.
        """
        bind = "0.0.0.0" if lan else LOOPBACK  # noqa: S104  for its rules, not bound to
        serving = Serving(self.config, bind, code, self.clock, SystemClock())
        home = change(house(self.settings, serving))
        if limits is not None:
            home = replace(home, limits=limits)
        bound = bound_to(LOOPBACK, 0)
        server, loop = server_of(home), asyncio.new_event_loop()
        serving_it = server.serve(sockets=[bound])
        thread = threading.Thread(target=loop.run_until_complete, args=[serving_it])
        thread.start()
        page = Page(home, f"http://{LOOPBACK}:{bound.getsockname()[1]}", loop)
        try:
            yield page
        finally:
            page.close()
            server.should_exit = True
            thread.join()
            loop.close()
            bound.close()


class Page:
    """The page as a viewer reaches it; every answer is held against its description."""

    def __init__(self, home: House, address: str, loop: asyncio.AbstractEventLoop) -> None:
        self.house = home
        self.address = address
        self._loop = loop
        self._clients: list[httpx.Client] = []

    def viewer(self, **options: Any) -> "Viewer":
        client = httpx.Client(
            base_url=self.address, timeout=30, event_hooks={"response": [hold]}, **options
        )
        self._clients.append(client)
        return Viewer(client)

    def hear(self, topic: str, payload: Mapping[str, object]) -> None:
        """Let the page hear what a daemon would say."""
        self._loop.call_soon_threadsafe(self.house.board.hear, topic, payload)

    def end_streams(self) -> None:
        """Let everybody go who watches live."""
        self._loop.call_soon_threadsafe(self.house.board.close)

    def close(self) -> None:
        self.end_streams()
        for client in self._clients:
            client.close()


class Viewer:
    """A browser's worth: it keeps cookies, and brings the token of the page."""

    def __init__(self, client: httpx.Client) -> None:
        self.client = client

    def get(self, path: str, **options: Any) -> httpx.Response:
        return self.client.get(path, **options)

    def told(self, path: str) -> Any:
        answer = self.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def token(self) -> str:
        return str(self.told("/api/station")["token"])

    def post(self, path: str, body: Mapping[str, object]) -> httpx.Response:
        return self.client.post(path, json=body, headers={"X-Noonpot-Token": self.token()})

    def act(self, path: str, **body: object) -> httpx.Response:
        """Do something, under an id of its own unless one is given."""
        return self.post(path, {"id": str(uuid4()), **body})

    def delete(self, path: str) -> httpx.Response:
        return self.client.delete(path, headers={"X-Noonpot-Token": self.token()})


@contextmanager
def home_in(folder: Path) -> Iterator[Home]:
    config = folder / "noonpot.toml"
    config.write_text(CONFIG, encoding="utf-8")
    settings, clock = load(config), FakeClock(START)
    with open_store(settings, clock) as store:
        store.register(settings.station.probes)
        yield Home(settings, store, clock, config)


@contextmanager
def page_process(
    config: Path, data: Path, port: int, **hello: object
) -> Iterator[subprocess.Popen[bytes]]:
    """The process of the page alone, told where to serve."""
    told = {"config": str(config), "data": str(data), "clock": None}
    command = [sys.executable, "-m", "noonpot.app.pageprocess"]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdin is not None
    process.stdin.write(json.dumps(told | {"bind": LOOPBACK, "port": port} | hello).encode())
    process.stdin.write(b"\n")
    process.stdin.flush()
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stderr):
            if pipe is not None:
                pipe.close()
