"""A bad road to a time-series server: it stands in between, and lets few writes through whole."""

import json
import random
import socket
import struct
import threading
from collections import Counter
from collections.abc import Mapping
from contextlib import closing
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Self
from zlib import crc32

# What becomes of a write, and how often, while the server is away and when it is back.
AWAY = {"429": 3, "503": 3, "refused": 3, "cut off": 2, "cut within": 2, "answer lost": 2}
BACK = {"taken": 70, "429": 4, "503": 4, "cut off": 6, "cut within": 6, "answer lost": 10}
TIMEOUT_S = 30.0
RESET = struct.pack("ii", 1, 0)


class Gate:
    """Forwards writes to a port of this machine, or not. Of all lines it holds one in ``bad_of``
    for wrong; a write with such a line in it is answered 400 as a whole. ``told`` counts what it
    did.
    """

    def __init__(self, port: int, dice: random.Random, bad_of: int) -> None:
        self.odds: Mapping[str, int] = AWAY
        self.told: Counter[str] = Counter()
        self._upstream = port
        self._dice = dice
        self._bad_of = bad_of
        self._turn = threading.Lock()
        gate = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                gate.handle(self)

            def log_message(self, *_: object) -> None:
                """The test's output stays free of it."""

        class Server(ThreadingHTTPServer):
            def handle_error(self, *_: object) -> None:
                """A killed client is no error of the gate."""

        self._server = Server(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))

    @property
    def port(self) -> int:
        return int(self._server.server_port)

    def is_bad(self, line: str) -> bool:
        """Whether it never lets this line through."""
        return crc32(line.encode()) % self._bad_of == 0

    def handle(self, request: BaseHTTPRequestHandler) -> None:
        length = int(request.headers["Content-Length"])
        body = request.rfile.read(length)
        if len(body) < length:
            return  # the client was killed
        with self._turn:
            what = self._dice.choices([*self.odds], [*self.odds.values()])[0]
            if what != "503" and any(map(self.is_bad, body.decode().split("\n"))):
                what = "400"
            self.told[what] += 1
            asked_s = self._dice.randint(1, 600)
        if what in ("taken", "answer lost"):
            status, answer = self._forward(request.path, body)
            assert status == 204, answer
        if what == "taken":
            _answer(request, 204, {})
        elif what == "400":
            _answer(request, 400, {}, "unable to parse a line")
        elif what == "429":
            _answer(request, 429, {"Retry-After": str(asked_s)}, "too many writes")
        elif what == "503":
            _answer(request, 503, {}, "not ready")
        else:
            if what == "cut within":
                request.wfile.write(b"HTTP/1.1 ")
            if what == "refused":
                request.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
            request.close_connection = True

    def _forward(self, path: str, body: bytes) -> tuple[int, bytes]:
        connection = HTTPConnection("127.0.0.1", self._upstream, timeout=TIMEOUT_S)
        with closing(connection):
            connection.request("POST", path, body)
            response = connection.getresponse()
            return response.status, response.read()

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


def _answer(
    request: BaseHTTPRequestHandler, status: int, headers: Mapping[str, str], message: str = ""
) -> None:
    body = json.dumps({"code": "x", "message": message}).encode() if message else b""
    request.send_response(status)
    for name, value in headers.items():
        request.send_header(name, value)
    if body:
        request.send_header("Content-Length", str(len(body)))
    request.end_headers()
    request.wfile.write(body)
