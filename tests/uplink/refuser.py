"""A server that says no, as an InfluxDB 2 server would: over HTTP, in JSON."""

import json
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Self


@dataclass(frozen=True)
class Answer:
    """What it answers to a write; 204 takes the lines."""

    status: int = 204
    message: str = ""
    headers: dict[str, str] = field(default_factory=dict)


Judge = Callable[[list[str]], Answer]


class Refuser:
    """Answers each write as ``judge`` says, and keeps the lines that it took. An ``Access``."""

    org = "home"
    bucket = "garden"
    token = "s3cret"  # noqa: S105, lets nobody in

    def __init__(self, judge: Judge = lambda _: Answer()) -> None:
        self.judge = judge
        self.writes: list[list[str]] = []
        self.taken: list[str] = []
        self.paths: list[str] = []
        self.logins: list[str | None] = []
        refuser = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                refuser.answer(self)

            def log_message(self, *_: object) -> None:
                """The test's output stays free of it."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}"

    def answer(self, request: BaseHTTPRequestHandler) -> None:
        lines = request.rfile.read(int(request.headers["Content-Length"])).decode().split("\n")
        self.paths.append(request.path)
        self.logins.append(request.headers["Authorization"])
        self.writes.append(lines)
        answer = self.judge(lines)
        if answer.status == 204:
            self.taken += lines
        body = json.dumps({"code": "x", "message": answer.message}).encode()
        request.send_response(answer.status)
        for name, value in answer.headers.items():
            request.send_header(name, value)
        if answer.status != 204:
            request.send_header("Content-Length", str(len(body)))
        request.end_headers()
        if answer.status != 204:
            request.wfile.write(body)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
