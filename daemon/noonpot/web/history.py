"""Routes to what was: curves, cooks, and a cook as a file or a report."""

import asyncio
from datetime import timedelta

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from noonpot.core.cook import Cook
from noonpot.core.curve import Curve
from noonpot.core.moment import iso
from noonpot.core.names import is_name
from noonpot.core.recording import VALUES, format_recording
from noonpot.core.reportframe import POLICY
from noonpot.core.sheet import sheet
from noonpot.errors import RequestError
from noonpot.web.answers import Answer, cook_id, no_cook, when, whole
from noonpot.web.cookbook import CookBook
from noonpot.web.house import House

USUAL = timedelta(hours=6)
MOST_POINTS = 4000
MOST_WAITING = 4
"""Reports are made one after the other; so many people may wait for theirs."""


class History:
    """What the data file tells."""

    def __init__(self, house: House) -> None:
        self._house = house
        self.book = CookBook(house.about, house.archive)
        self._one_report = asyncio.Lock()
        self._waiting = 0

    async def curve(self, request: Request) -> Response:
        """The lines of a cooker between two times."""
        cooker = known_cooker(self._house, request)
        until = when(request, "until", self._house.clock.moment().at)
        since = when(request, "since", until - min(USUAL, timedelta(seconds=until.timestamp())))
        if since >= until:
            raise RequestError(400, "since must be before until")
        points = whole(request, "points", 600, 2, MOST_POINTS)
        lines = await run_in_threadpool(self._house.archive.curve, cooker, since, until, points)
        return Answer(_body(lines))

    async def cooks(self, request: Request) -> Response:
        """Some cooks, the newest first."""
        cooker = request.query_params.get("cooker")
        if cooker is not None and not is_name(cooker):
            raise RequestError(400, f"cooker is {cooker[:40]!r}, but must be the name of one")
        before = whole(request, "before", 2**53, 1, 2**53)
        limit = whole(request, "limit", 30, 1, 100)
        now = self._house.clock.moment().at
        told, more = await run_in_threadpool(self.book.page, cooker, before, limit, now)
        return Answer({"cooks": told, "more": more})

    async def cook(self, request: Request) -> Response:
        """One cook with its story."""
        cook, now = await self._cook(request), self._house.clock.moment().at
        return Answer(await run_in_threadpool(self.book.story, cook, now))

    async def cook_curve(self, request: Request) -> Response:
        """The lines of one cook."""
        cook = await self._cook(request)
        points = whole(request, "points", 900, 2, MOST_POINTS)
        until = cook.stopped_at or self._house.clock.moment().at
        lines = await run_in_threadpool(
            self._house.archive.curve, cook.cooker, cook.started_at, until, points
        )
        return Answer(_body(lines))

    async def recording(self, request: Request) -> Response:
        """One cook as a recording."""
        cook = await self._cook(request)
        recording = await run_in_threadpool(self._house.archive.recording, cook.id)
        text = await run_in_threadpool(format_recording, recording)
        return _file(text, f"cook-{cook.id}-recording.csv")

    async def table(self, request: Request) -> Response:
        """One cook for a spreadsheet, a row a minute."""
        cook = await self._cook(request)
        recording = await run_in_threadpool(self._house.archive.recording, cook.id)
        about = self._house.about
        text = await run_in_threadpool(sheet, recording, about.units, about.timezone)
        return _file(text, f"cook-{cook.id}-table.csv")

    async def report(self, request: Request) -> Response:
        """One cook as a page to read and print, made aside from all other answers."""
        cook = await self._cook(request)
        if self._waiting >= MOST_WAITING:
            raise RequestError(429, "others wait for reports already; try again in a minute")
        self._waiting += 1
        try:
            async with self._one_report:
                text = await run_in_threadpool(self._house.archive.report, cook.id)
        finally:
            self._waiting -= 1
        return HTMLResponse(text, headers={"content-security-policy": POLICY})

    async def _cook(self, request: Request) -> Cook:
        number = cook_id(request)
        cook = await run_in_threadpool(self.book.cook, number)
        if cook is None:
            raise no_cook(number)
        return cook


def known_cooker(house: House, request: Request) -> str:
    """The cooker in the path. Raises RequestError when there is none of this name."""
    name = str(request.path_params["cooker"])
    if name in [spec.name for spec in house.about.station.cookers]:
        return name
    raise RequestError(404, f"there is no cooker {name[:40]!r}; /api/station names them all")


def _body(curve: Curve) -> dict[str, object]:
    lines = {VALUES[role]: line for role, line in curve.values.items()}
    return {
        "cooker": curve.cooker,
        "since": iso(curve.since),
        "until": iso(curve.until),
        "every_s": curve.every_s,
        "time": curve.times_s,
        **lines,
    }


def _file(text: str, name: str) -> Response:
    return Response(
        text.encode("utf-8", errors="replace"),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )
