"""The route to a plan: will it cook, and when must it go in."""

import asyncio

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from noonpot.errors import RequestError
from noonpot.web.answers import Answer, known_keys, text_of, told
from noonpot.web.house import House

TEXTS = ("food", "cooker", "sky", "on", "at", "meal")
NUMBERS = ("mass_kg", "start_c", "turn_every")
LARGEST = 1e6


class Plans:
    """Has plans made, one at a time."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._turn = asyncio.Lock()

    async def plan(self, request: Request) -> Response:
        """A plan for each cooker asked for."""
        said = await told(request)
        known_keys(said, *TEXTS, *NUMBERS, "left")
        question: dict[str, object] = {key: text_of(said, key, 60) for key in TEXTS}
        question |= {key: _number(said, key) for key in NUMBERS}
        left = said.get("left", False)
        if not isinstance(left, bool):
            raise RequestError(400, "left must be true or false")
        if question["food"] is None:
            raise RequestError(400, "food is missing; /api/station names them all")
        if self._turn.locked():
            raise RequestError(429, "another plan is being made; try again in some seconds")
        async with self._turn:
            plans = await run_in_threadpool(self._house.planning.plan, {**question, "left": left})
        return Answer({"plans": plans})


def _number(said: dict[str, object], key: str) -> float | None:
    value = said.get(key)
    if value is None:
        return None
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST:
        return float(value)
    raise RequestError(400, f"{key} must be a number")
