"""A page on a real port, and a client that sends it any bytes at all."""

import re
import socket
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple, Self

import httpx

from endurance.fuzz_tally import MARK
from noonpot.clock import SystemClock
from noonpot.core.cook import begin
from noonpot.ports import Batch
from noonpot.web.house import House
from noonpot.web.limits import Limits, Pace
from simday import event
from web.homes import Page, home_in
from web.rated import Rater

CLOCK = SystemClock()
EVER = Pace(1_000_000, 1_000_000.0)
CODE, PASSPHRASE = f"{MARK}-EFGH", f"{MARK} open up"
STATUS = re.compile(rb"HTTP/1\.1 (\d{3}) ")
PATIENCE_S = 60.0


class Planner:
    """Stands for the process that plans: what it is asked is checked before, and that counts."""

    def plan(self, question: Mapping[str, object]) -> list[dict[str, object]]:
        return [{"asked": sorted(question)}]


def quick(house: House) -> House:
    """The house without the two processes that take seconds to start."""
    return replace(house, rating=Rater(), planning=Planner())


@contextmanager
def opened(folder: Path, *, lan: bool) -> Iterator[Page]:
    """A page with a cook behind it; ``lan`` with a passphrase before it."""
    limits = Limits(look=EVER, act=EVER, answer_s=0.0, body_s=0.3)
    if not lan:
        limits = replace(limits, sign_in=EVER, all_sign_in=EVER)
    with home_in(folder) as home:
        begun, ended = home.clock.moment().at, home.clock.advance(3600).at
        told = [event("box", "start", begun, food="bread"), event("box", "stop", ended)]
        cook = begin(told[0]).after(told[1])
        home.store.write(home.clock.moment(), Batch(events=told, cooks=[cook]))
        with home.page(lan=lan, code=CODE if lan else None, limits=limits, change=quick) as page:
            if lan:
                page.house.keys.set_passphrase(PASSPHRASE)
            yield page


class Told(NamedTuple):
    """An answer: its status, 0 for a connection closed without one, and all that was sent."""

    status: int
    text: bytes


class Line:
    """A connection to the page, opened anew when it was closed."""

    def __init__(self, page: Page) -> None:
        self.address = ("127.0.0.1", httpx.URL(page.address).port or 0)
        self._socket: socket.socket | None = None
        self.host = f"127.0.0.1:{self.address[1]}"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.hang_up()

    def ask(self, request: bytes) -> Told:
        """Send it, and read one answer. Fails when none comes for too long."""
        fresh = self._socket is None
        try:
            told = self._asked(request)
        except (ConnectionError, BrokenPipeError):
            told = Told(0, b"")
        if told.status == 0:
            self.hang_up()
            return told if fresh else self.ask(request)  # it was closed for the one before
        return told

    def _asked(self, request: bytes) -> Told:
        if self._socket is None:
            self._socket = socket.create_connection(self.address, PATIENCE_S)
        self._socket.sendall(request)
        head, body = self._head(b"")
        while head.startswith(b"HTTP/1.1 1"):  # "go on" is no answer yet
            head, body = self._head(body)
        match = STATUS.match(head)
        if match is None:
            return Told(0, head)
        head = head.lower()
        if not request.startswith(b"HEAD ") and int(match[1]) not in (204, 304):
            body = self._body(head, body)
        if b"connection: close" in head or b" 200 " not in head[:20]:
            self.hang_up()
        return Told(int(match[1]), head + b"\r\n\r\n" + body)

    def _head(self, text: bytes) -> tuple[bytes, bytes]:
        """A head, and what came after it; what there is without one when the page hangs up."""
        while b"\r\n\r\n" not in text and (piece := self._more()):
            text += piece
        head, _, rest = text.partition(b"\r\n\r\n")
        return head, rest

    def _body(self, head: bytes, body: bytes) -> bytes:
        length = re.search(rb"content-length: (\d+)", head)
        if length is None:
            while not body.endswith(b"0\r\n\r\n") and (piece := self._more()):
                body += piece
            return body
        while len(body) < int(length[1]) and (piece := self._more()):
            body += piece
        return body

    def _more(self) -> bytes:
        return b"" if self._socket is None else self._socket.recv(65_536)

    def hang_up(self) -> None:
        """Close the connection; the next question opens another."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None


def held_open(page: Page, address: str, count: int) -> list[socket.socket]:
    """So many connections from one address of this machine, each with half a request sent."""
    port = httpx.URL(page.address).port or 0
    held = []
    for _ in range(count):
        one = socket.create_connection(("127.0.0.1", port), PATIENCE_S, source_address=(address, 0))
        try:
            one.sendall(b"GET /api/now HTTP/1.1\r\nHost: localhost\r\nX-Slow: ")
        except ConnectionError:
            one.close()
            continue
        held.append(one)
    return held


@contextmanager
def held_after(page: Page, more: bytes, then: bytes) -> Iterator[socket.socket]:
    """A connection that has had one answer, to a request with more headers, and goes on so."""
    port = httpx.URL(page.address).port or 0
    with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as line:
        line.sendall(b"GET /api/station HTTP/1.1\r\nHost: localhost\r\n" + more + b"\r\n")
        told = b""
        while not told.endswith(b"}"):  # the end of the JSON
            told += line.recv(65_536)
        line.sendall(then)
        yield line


def looked(page: Page, address: str, **options: Any) -> httpx.Response:
    """What a viewer at another address of this machine sees."""
    transport = httpx.HTTPTransport(local_address=address)
    with httpx.Client(transport=transport, base_url=page.address, timeout=30, **options) as viewer:
        return viewer.get("/api/now")
