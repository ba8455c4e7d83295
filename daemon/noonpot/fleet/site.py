"""The page of many stations: four files and one live stream, for looking only."""

from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from urllib.parse import urlsplit

from sse_starlette import EventSourceResponse, ServerSentEvent
from sse_starlette.sse import SendTimeoutError
from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from noonpot.fleet.gallery import MOST_VIEWERS, Gallery

STATIC = Path(__file__).parent / "static"
FILES = {
    "/": ("index.html", "text/html"),
    "/stations.css": ("stations.css", "text/css"),
    "/stations.js": ("stations.js", "text/javascript"),
    "/favicon.svg": ("favicon.svg", "image/svg+xml"),
}
COMMENT_S = 15
PATIENCE_S = 10.0
LOOPBACK = ("localhost", "127.0.0.1", "::1")
SECURITY = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Guard:
    """Answers only to the names of this computer itself, so that no name of somebody else's can be
    turned to it; and puts under every answer what a browser may do with it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(SECURITY)
            await send(message)

        if scope["type"] == "http" and not _is_ours(Headers(scope=scope).get("host", "")):
            refusal = PlainTextResponse("This page goes by the name localhost alone.\n", 421)
            await refusal(scope, receive, sending)
            return
        await self._app(scope, receive, sending)


class _Stream(EventSourceResponse):
    """Ends when the viewer takes nothing any more: a phone that fell asleep is no fault."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        except* SendTimeoutError:
            pass


def site(gallery: Gallery) -> Guard:
    """The whole page."""

    async def stations(_: Request) -> Response:
        return Response(gallery.whole(), media_type="application/json")

    async def live(_: Request) -> Response:
        if gallery.viewers >= MOST_VIEWERS:
            return PlainTextResponse(f"{gallery.viewers} look at this already.\n", 429)

        async def news() -> AsyncIterator[ServerSentEvent]:
            async for body in gallery.look():
                yield ServerSentEvent(body, event="stations", sep="\n")

        return _Stream(news(), ping=COMMENT_S, send_timeout=PATIENCE_S, sep="\n")

    files = [Route(path, _file(*what), methods=["GET"]) for path, what in FILES.items()]
    routes = [
        *files,
        Route("/api/stations", stations, methods=["GET"]),
        Route("/api/live", live, methods=["GET"]),
    ]
    return Guard(Starlette(routes=routes))


def _file(name: str, kind: str) -> Callable[[Request], Awaitable[Response]]:
    async def answer(_: Request) -> Response:
        return FileResponse(STATIC / name, media_type=kind)

    return answer


def _is_ours(host: str) -> bool:
    try:
        return urlsplit(f"//{host}").hostname in LOOPBACK
    except ValueError:
        return False
