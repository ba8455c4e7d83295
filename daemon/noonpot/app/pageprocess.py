"""The process that serves the page: ``python -m noonpot.app.pageprocess``, started by the daemon.

It reads lines of JSON: a hello, then what the daemon shows and tells. It ends when they end, so it
never outlives the daemon. It reads the data file and hands letters in; it writes nothing else.
"""

import asyncio
import json
import logging
import socket
import sys
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

import h11
import uvicorn
from anyio.to_thread import current_default_thread_limiter
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

from noonpot.app.machine import system_clock
from noonpot.app.pagehouse import Serving, house
from noonpot.clock import FastClock
from noonpot.core.moment import utc
from noonpot.errors import NoonpotError, StoreError
from noonpot.ports import Clock
from noonpot.settings.reading import load
from noonpot.web.board import Board
from noonpot.web.house import House
from noonpot.web.site import site

log = logging.getLogger(__name__)

MOST_AT_ONCE = 64
MOST_OF_ONE = 24  # connections of one address: two browsers, at their most greedy
LOOKS_AT_ONCE = 8  # into the data file; each takes a thread and some memory
GRACE_S = 2  # a live stream never ends by itself
IDLE_S = 15
HEAD_S = 10.0
LONGEST_HEAD = 16 * 1024
WAITING = 64


class Patient(H11Protocol):
    """Waits for the head of a first request only so long, and takes only so many connections of one
    address: else one stranger would fill the house.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody connects."""
        super().connection_made(transport)
        clients = [other.client for other in self.connections if isinstance(other, Patient)]
        hosts = [client[0] for client in clients if client is not None]
        if self.client is not None and hosts.count(self.client[0]) > MOST_OF_ONE:
            self.transport.close()
            return
        self._answered: RequestResponseCycle | None = None
        self.loop.call_later(HEAD_S, self._look_again)

    def send_400_response(self, msg: str) -> None:
        """What comes is no HTTP: say so, if no answer has begun, and send no other behind it."""
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            super().send_400_response(msg)
        else:
            self.transport.close()
        cycle: RequestResponseCycle | None = self.cycle
        if cycle is not None:
            cycle.disconnected = True
            cycle.message_event.set()

    def _look_again(self) -> None:
        """Close a line on which nothing was asked since the last look: half a head, be it the first
        or a later one, and a body that never comes hold no place.
        """
        if self.transport.is_closing():
            return
        cycle: RequestResponseCycle | None = self.cycle
        idle = cycle is None or cycle.response_complete
        if idle and cycle is self._answered:
            self.transport.close()
            return
        self._answered = cycle if idle else None
        self.loop.call_later(HEAD_S, self._look_again)


def serve(hello: Mapping[str, object], news: BinaryIO) -> None:
    """Serve the page until ``news`` ends.

    Raises ConfigError and StoreError when the house cannot be read, and StoreError when the port
    is taken.
    """
    config, bind, port = Path(str(hello["config"])), str(hello["bind"]), int(str(hello["port"]))
    code = hello.get("code")
    settings = replace(load(config, secrets=False), data=Path(str(hello["data"])))
    serving = Serving(
        config, bind, str(code) if code else None, _clock(hello.get("clock")), system_clock()
    )
    home = house(settings, serving)
    asyncio.run(_serve(server_of(home), bound_to(bind, port), home.board, news))


def server_of(home: House) -> uvicorn.Server:
    """The page on a server with bounds: what it takes at once, and for how long it waits."""
    options = uvicorn.Config(
        site(home),
        http=Patient,
        ws="none",
        loop="asyncio",
        lifespan="off",
        proxy_headers=False,
        server_header=False,
        access_log=False,  # a path may hold the secret of a link
        log_config=None,
        limit_concurrency=MOST_AT_ONCE,
        timeout_keep_alive=IDLE_S,
        timeout_graceful_shutdown=GRACE_S,
        h11_max_incomplete_event_size=LONGEST_HEAD,
    )
    return uvicorn.Server(options)


async def _serve(
    server: uvicorn.Server, bound: socket.socket, board: Board, news: BinaryIO
) -> None:
    loop = asyncio.get_running_loop()
    current_default_thread_limiter().total_tokens = LOOKS_AT_ONCE

    def end() -> None:
        board.close()
        server.should_exit = True

    async def hear(told: Mapping[str, Any]) -> None:
        board.hear(told["topic"], told["payload"])

    def listen() -> None:
        for line in news:  # one by one: when the loop hangs, the daemon's pipe fills, and it sees
            asyncio.run_coroutine_threadsafe(hear(json.loads(line)), loop).result()
        loop.call_soon_threadsafe(end)

    threading.Thread(target=listen, name="news", daemon=True).start()
    await server.serve(sockets=[bound])


def bound_to(bind: str, port: int) -> socket.socket:
    """A socket that listens there. Raises StoreError when that cannot be."""
    family = socket.AF_INET6 if ":" in bind else socket.AF_INET
    # The protocol is named, for asyncio then sends without delay what would wait 40 ms for more.
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((bind, port))
        bound.listen(WAITING)
    except OSError as error:
        raise StoreError(
            f"the page cannot be served at {bind} port {port}: {error.strerror}; give bind and "
            "port under [page] an address of this computer and a port that nothing else uses"
        ) from error
    return bound


def _clock(told: object) -> Clock:
    """The station's clock: the machine's, or the fast one of a demonstration."""
    if not isinstance(told, Mapping):
        return system_clock()
    clock = FastClock(utc(str(told["start"])), float(told["rate"]))
    clock.go(float(told["origin_s"]))
    return clock


def main() -> int:
    """Serve what the standard input tells; returns the exit code."""
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s %(message)s")
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)  # strangers could fill the log
    line = sys.stdin.buffer.readline()
    if not line:
        return 0
    hello = json.loads(line)
    try:
        serve(hello, sys.stdin.buffer)
    except NoonpotError as error:
        if not hello.get("told"):  # it was, when we ended the last time
            log.error("%s", error)  # noqa: TRY400  a sentence, no trace
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
