"""Routes by which people come in and let others in: passphrase, session, read-only links."""

import asyncio
import hmac
from math import ceil

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from noonpot.core.moment import iso
from noonpot.errors import RequestError
from noonpot.web.answers import Answer, known_keys, refused, text_of, told
from noonpot.web.doors import GUEST, SESSION, SESSION_S, Doors
from noonpot.web.house import House
from noonpot.web.keyring import LONGEST
from noonpot.web.limits import Turnstile
from noonpot.web.looking import visitor_of

GUEST_S = 400 * 86400  # what browsers keep at most
LONGEST_NAME = 40


class Entering:
    """Opens the door, and closes it."""

    def __init__(self, house: House, doors: Doors) -> None:
        self._house = house
        self._doors = doors
        self._tries = Turnstile(house.limits.sign_in, house.life)
        self._all_tries = Turnstile(house.limits.all_sign_in, house.life)
        self._turn = asyncio.Lock()  # a hash takes 32 MB, so there is one at a time

    async def sign_in(self, request: Request) -> Response:
        """Come in with the passphrase."""
        said = await told(request)
        known_keys(said, "passphrase")
        passphrase = text_of(said, "passphrase", LONGEST)
        if not self._doors.locked:
            return Answer({"signed_in": True})
        self._one_try(request)
        async with self._turn:
            right = await run_in_threadpool(self._house.keys.opens, passphrase or "")
        if not right:
            return refused(403, "that is not the passphrase of this station")
        return self._welcomed()

    async def sign_out(self, request: Request) -> Response:
        """Go out."""
        self._doors.sign_out(request.headers.get("cookie", ""))
        answer = Answer({"signed_in": False})
        answer.delete_cookie(SESSION, httponly=True, samesite="strict")
        return answer

    async def choose(self, request: Request) -> Response:
        """Choose the first passphrase, with the code that the daemon told."""
        said = await told(request)
        known_keys(said, "code", "passphrase")
        code, passphrase = text_of(said, "code"), text_of(said, "passphrase", LONGEST)
        right = self._house.access.code
        if not self._doors.first_run or right is None:
            raise RequestError(
                403,
                "a passphrase cannot be chosen here now; "
                "'noonpot check --set-passphrase' on the station chooses a new one",
            )
        self._one_try(request)
        if not hmac.compare_digest(_letters(code or ""), _letters(right)):
            return refused(403, "that is not the code; the log of noonpot tells it")
        try:
            async with self._turn:
                await run_in_threadpool(self._house.keys.set_passphrase, passphrase or "")
        except ValueError as error:
            raise RequestError(400, str(error)) from None
        return self._welcomed()

    async def shares(self, request: Request) -> Response:
        """All read-only links, without their secrets; not for those who came by one."""
        if not visitor_of(request).may_write:
            raise RequestError(403, "this link is for looking only; sign in to see the others")
        links = self._house.keys.links()
        return Answer({"shares": [{"id": k.id, "name": k.label, "since": k.made} for k in links]})

    async def share(self, request: Request) -> Response:
        """A new read-only link."""
        said = await told(request)
        known_keys(said, "name")
        name = "" if said.get("name") == "" else text_of(said, "name", LONGEST_NAME) or ""
        made = iso(self._house.life.moment().at)
        try:
            link, secret = await run_in_threadpool(self._house.keys.give, name.strip(), made)
        except ValueError as error:
            raise RequestError(409, str(error)) from None
        body = {"id": link.id, "name": link.label, "since": link.made, "path": f"/s/{secret}"}
        return Answer(body)

    async def withdraw(self, request: Request) -> Response:
        """Make a link worthless."""
        number = request.path_params["share"]
        if not await run_in_threadpool(self._house.keys.withdraw, number):
            raise RequestError(404, "there is no such link; it may be withdrawn already")
        return Answer({"id": number})

    async def follow(self, request: Request) -> Response:
        """Come in by a link."""
        secret = request.path_params["secret"]
        answer = RedirectResponse("/", 303)
        if self._house.keys.link_of(secret) is None:
            raise RequestError(404, "this link is not valid any more; ask for another")
        answer.set_cookie(GUEST, secret, max_age=GUEST_S, httponly=True, samesite="strict")
        return answer

    def _one_try(self, request: Request) -> None:
        address = request.client.host if request.client else ""
        wait_s = self._tries.wait_s(address) or self._all_tries.wait_s("")
        if wait_s > 0:
            raise RequestError(429, f"too many tries; try again in {ceil(wait_s)} s")

    def _welcomed(self) -> Response:
        answer = Answer({"signed_in": True})
        answer.set_cookie(
            SESSION,
            self._doors.sign_in(),
            max_age=int(SESSION_S),
            httponly=True,
            samesite="strict",
        )
        return answer


def _letters(code: str) -> bytes:
    """A code as it is compared: however a person writes it down."""
    return code.replace("-", "").replace(" ", "").upper().encode(errors="surrogatepass")
