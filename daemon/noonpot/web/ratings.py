"""Routes to what a cooker can do: its rating, and what to cook in it month by month."""

import asyncio
from collections import OrderedDict
from collections.abc import Callable, Mapping
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from noonpot.core.recommendation import SKIES
from noonpot.errors import RequestError
from noonpot.web.answers import Answer
from noonpot.web.history import known_cooker
from noonpot.web.house import House

MOST_WAITING = 4
"""One is made after the other; so many people may wait for theirs."""
MOST_KEPT = 48
Key = tuple[object, ...]
Body = Mapping[str, object]


class Ratings:
    """Has cookers rated, one at a time; what no cook and no new day has changed is kept."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._one = asyncio.Lock()
        self._waiting = 0
        self._kept: OrderedDict[Key, Body] = OrderedDict()

    async def rating(self, request: Request) -> Response:
        """What the cooks and the published tests say of a cooker."""
        cooker = known_cooker(self._house, request)
        return await self._answer(cooker, "", partial(self._house.rating.rating, cooker))

    async def foods(self, request: Request) -> Response:
        """All foods in all months under one sky."""
        cooker = known_cooker(self._house, request)
        sky = request.query_params.get("sky", SKIES[0])
        if sky not in SKIES:
            raise RequestError(400, f"sky is {sky[:40]!r}, but must be {', '.join(SKIES)}")
        return await self._answer(cooker, sky, partial(self._house.rating.foods, cooker, sky))

    async def _answer(self, cooker: str, sky: str, make: Callable[[], Body]) -> Response:
        key = (cooker, sky, *await run_in_threadpool(self._state, cooker))
        if key in self._kept:
            return Answer(self._kept[key])
        if self._waiting >= MOST_WAITING:
            raise RequestError(429, "others wait for ratings already; try again in a minute")
        self._waiting += 1
        try:
            async with self._one:
                if key not in self._kept:  # the one before may have asked the same
                    self._kept[key] = await run_in_threadpool(make)
        finally:
            self._waiting -= 1
        body = self._kept[key]
        while len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)
        return Answer(body)

    def _state(self, cooker: str) -> Key:
        """What an answer holds for: the day, and the cooks that have ended."""
        day = self._house.clock.moment().at.astimezone(self._house.about.timezone).date()
        cooks = self._house.archive.cooks()
        return (day, *((c.id, c.stopped_at) for c in cooks if c.cooker == cooker and not c.running))
