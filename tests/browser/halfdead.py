"""A line to the page that can go half dead: it stays open, and nothing more comes of the live news.
Everything else still passes.
"""

import socket
import threading
from socketserver import BaseRequestHandler, ThreadingTCPServer
from types import TracebackType
from typing import Self

LIVE = b"GET /api/live "
CHUNK = 65536


class _Server(ThreadingTCPServer):
    daemon_threads = True
    request_queue_size = 32
    port: int
    stalled: threading.Event


class _Pipe(BaseRequestHandler):
    """One connection of the browser, passed on to the page."""

    server: _Server

    def handle(self) -> None:
        live = threading.Event()
        with socket.create_connection(("127.0.0.1", self.server.port)) as page:
            back = threading.Thread(target=self._news, args=[page, live], daemon=True)
            back.start()
            try:
                while said := self.request.recv(CHUNK):
                    if said.startswith(LIVE):
                        live.set()
                    page.sendall(said)
                page.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass  # the browser or the page has gone: so has this connection
            back.join()

    def _news(self, page: socket.socket, live: threading.Event) -> None:
        try:
            while said := page.recv(CHUNK):
                if not (live.is_set() and self.server.stalled.is_set()):
                    self.request.sendall(said)
            self.request.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass


class HalfDead:
    """Stands between a browser and the page on a port of this computer."""

    def __init__(self, port: int) -> None:
        self._server = _Server(("127.0.0.1", 0), _Pipe)
        self._server.port, self._server.stalled = port, threading.Event()
        self._thread = threading.Thread(target=self._server.serve_forever, args=[0.05])
        self.address = f"http://127.0.0.1:{self._server.server_address[1]}"

    def stall(self) -> None:
        """From now on no line brings any live news."""
        self._server.stalled.set()

    def heal(self) -> None:
        """Lines that are opened from now on are whole again; those before have missed some."""
        self._server.stalled.clear()

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
