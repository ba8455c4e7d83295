"""Stands before all routes: names, bounds, changes from elsewhere, who may come in, what is sent.

Rebinding a name to this address is answered by the names it may be called by; a change that another
site's page asks for, by where the browser says it comes from and by a token that only our own page
can have read.
"""

import asyncio
import hmac
import ipaddress
import re
from math import ceil
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from noonpot.errors import RequestError
from noonpot.web.answers import worded
from noonpot.web.doors import Doors, Visitor
from noonpot.web.house import House
from noonpot.web.limits import Turnstile
from noonpot.web.metrics import PATH as METRICS
from noonpot.web.refusals import Why

TOKEN = "x-noonpot-token"  # noqa: S105  the name of a header
OPEN_TO_ALL = ("/api/station", "/api/session", "/api/passphrase", "/api/openapi.json")
DOORS = ("/api/session", "/api/passphrase")
LOOPBACK = ("localhost", "127.0.0.1", "::1")
HOST = re.compile(r"(?:\[([0-9A-Fa-f:.]{2,45})\]|([A-Za-z0-9.-]{1,253}))(?::\d{1,5})?", re.ASCII)
SECURITY = {
    "content-security-policy": (
        "default-src 'self'; img-src 'self' data: blob:; frame-ancestors 'none'; "
        "base-uri 'none'; form-action 'self'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
}


class Guard:
    """Lets through what may pass, and answers the rest itself."""

    def __init__(self, app: ASGIApp, house: House, doors: Doors) -> None:
        self._app = app
        self._house = house
        self._doors = doors
        self._looks = Turnstile(house.limits.look, house.life)
        self._acts = Turnstile(house.limits.act, house.life)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = admitted = False

        async def sending(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                if admitted:
                    self._notice(scope, message["status"])
                headers = MutableHeaders(scope=message)
                for name, value in SECURITY.items():
                    headers.setdefault(name, value)  # a report is stricter still
                if scope["path"].startswith(("/api/", "/s/", METRICS)):
                    headers["cache-control"] = "no-store"
            await send(message)

        try:
            passed = await self._admitted(scope, receive)
            admitted = True
            await self._app(scope, passed, sending)
        except Exception as error:
            if begun:
                raise
            await worded(error)(scope, receive, sending)

    async def _admitted(self, scope: Scope, receive: Receive) -> Receive:
        """The way to the body, when the request may pass. Raises RequestError when not."""
        headers = Headers(scope=scope)
        self._check_host(headers, scope)
        looks = scope["method"] in ("GET", "HEAD")
        self._check_pace(scope, self._looks if looks else self._acts)
        visitor = self._doors.visitor(
            headers.get("cookie", ""), headers.get("authorization", "") if looks else ""
        )
        scope.setdefault("state", {})["visitor"] = visitor
        if not looks:
            self._check_origin(headers, scope)
            if scope["method"] == "POST":
                _check_type(headers)
            if not hmac.compare_digest(
                headers.get(TOKEN, "").encode("latin-1"), visitor.token.encode()
            ):
                raise RequestError(
                    403, "the page is older than this session; load it anew and say it again"
                )
        path = scope["path"]
        if path == METRICS or (path.startswith("/api/") and path not in OPEN_TO_ALL):
            _check_visitor(visitor, looks=looks)
        return receive if looks else await self._body(headers, receive)

    def _notice(self, scope: Scope, status: int) -> None:
        """Count whom the routes turned away at a door."""
        path = scope["path"]
        if path in DOORS and status in (403, 429):
            self._refuse(Why.LOGIN, scope)
        elif path.startswith("/s/") and status == 404:
            self._refuse(Why.LINK, scope)

    def _refuse(self, why: Why, scope: Scope) -> None:
        self._house.refusals.count(why, _address(scope))

    def _check_host(self, headers: Headers, scope: Scope) -> None:
        match = HOST.fullmatch(headers.get("host", ""))
        name = (match[1] or match[2]).lower() if match else ""
        if name in LOOPBACK or name in self._house.access.names:
            return
        if match and not self._house.access.local and _is_address(name):
            return  # a name can be turned to this address by somebody else, an address cannot
        self._refuse(Why.NAME, scope)
        raise RequestError(
            421, "this page does not go by that name; add it to names under [page], or use another"
        )

    def _check_pace(self, scope: Scope, turnstile: Turnstile) -> None:
        wait_s = turnstile.wait_s(_address(scope))
        if wait_s > 0:
            self._refuse(Why.PACE, scope)
            raise RequestError(429, f"too much at once; try again in {ceil(wait_s)} s")

    def _check_origin(self, headers: Headers, scope: Scope) -> None:
        """What browsers say of where a change comes from; other programs say nothing."""
        site = headers.get("sec-fetch-site")
        origin = headers.get("origin")
        ours = origin is None or _host_of(origin) == headers.get("host", "").lower()
        if site in ("same-origin", "none") or (site is None and ours):
            return
        self._refuse(Why.SITE, scope)
        raise RequestError(403, "this change comes from another site; use the page itself")

    async def _body(self, headers: Headers, receive: Receive) -> Receive:
        """The whole body, read before anything is done with it."""
        most = self._house.limits.body
        too_long = RequestError(413, f"the body is longer than {most} bytes; say it in fewer words")
        said = headers.get("content-length", "0")
        if not re.fullmatch(r"\d{1,9}", said, re.ASCII) or int(said) > most:
            raise too_long
        parts, size = [], 0
        try:
            async with asyncio.timeout(self._house.limits.body_s):
                while True:
                    message = await receive()
                    if message["type"] != "http.request":
                        raise RequestError(400, "the body broke off; say it again")
                    parts.append(message.get("body", b""))
                    size += len(parts[-1])
                    if size > most:
                        raise too_long
                    if not message.get("more_body"):
                        break
        except TimeoutError:
            raise RequestError(408, "the body took too long; say it again") from None
        whole = [b"".join(parts)]

        async def told() -> Message:
            if whole:
                return {"type": "http.request", "body": whole.pop(), "more_body": False}
            return await receive()

        return told


def _address(scope: Scope) -> str:
    """Where a request comes from, "" when nobody can tell."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def _check_type(headers: Headers) -> None:
    kind = headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json":
        raise RequestError(415, "a change is JSON; send it with Content-Type: application/json")


def _check_visitor(visitor: Visitor, *, looks: bool) -> None:
    if not visitor.may_read:
        raise RequestError(401, "sign in with the passphrase of this station first")
    if not looks and not visitor.may_write:
        raise RequestError(403, "this link is for looking only; sign in to do something")


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _host_of(origin: str) -> str:
    try:
        return urlsplit(origin).netloc.lower()
    except ValueError:
        return ""
