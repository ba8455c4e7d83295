"""The page of many stations, served on loopback by the command that watches them."""

import asyncio
import socket
from collections.abc import Callable

import uvicorn

from noonpot.errors import NotifierError
from noonpot.fleet.board import Board
from noonpot.fleet.gallery import Gallery
from noonpot.fleet.site import site
from noonpot.ports import Clock

BIND = "127.0.0.1"
MOST_AT_ONCE = 64
IDLE_S = 15
GRACE_S = 1  # a live stream never ends by itself
LONGEST_HEAD = 16 * 1024


class PageServer:
    """Serves what a board shows; ``problem`` says why the broker cannot be heard, "" while it can.

    Port 0 is any that is free. Raises NotifierError when the port is taken.
    """

    def __init__(
        self, board: Board, problem: Callable[[], str], clock: Clock, port: int, unit: str
    ) -> None:
        self._bound = _bound(port)
        self._gallery = Gallery(board, problem, clock, unit)
        self._loop: asyncio.AbstractEventLoop | None = None
        options = uvicorn.Config(
            site(self._gallery),
            http="h11",
            ws="none",
            loop="asyncio",
            lifespan="off",
            proxy_headers=False,
            server_header=False,
            access_log=False,
            log_config=None,
            limit_concurrency=MOST_AT_ONCE,
            timeout_keep_alive=IDLE_S,
            timeout_graceful_shutdown=GRACE_S,
            h11_max_incomplete_event_size=LONGEST_HEAD,
        )
        self._server = uvicorn.Server(options)

    @property
    def address(self) -> str:
        """Where a browser finds it."""
        return f"http://localhost:{self._bound.getsockname()[1]}"

    def run(self) -> None:
        """Serve until interrupted or stopped."""
        asyncio.run(self._serve())

    def stop(self) -> None:
        """End it, from any thread; ``run`` returns soon."""
        self._server.should_exit = True
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._gallery.close)

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        await self._server.serve(sockets=[self._bound])


def _bound(port: int) -> socket.socket:
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((BIND, port))
        bound.listen(MOST_AT_ONCE)
    except OSError as error:
        bound.close()
        raise NotifierError(
            f"stations: the page cannot be served at {BIND} port {port}: {error.strerror}; give "
            "--port a port that nothing else uses"
        ) from error
    return bound
