"""The page and its data over HTTP: all routes, and what stands before them."""

import json
from functools import lru_cache
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from noonpot.errors import NoonpotError
from noonpot.web.acts import Acts
from noonpot.web.answers import Answer, refused, worded
from noonpot.web.doors import Doors
from noonpot.web.entering import Entering
from noonpot.web.guard import Guard
from noonpot.web.history import History
from noonpot.web.house import House
from noonpot.web.looking import Looking
from noonpot.web.metrics import PATH, Metrics
from noonpot.web.plans import Plans
from noonpot.web.ratings import Ratings

OPENAPI = Path(__file__).with_name("openapi.json")
SAID = {404: "there is nothing here; see /api/openapi.json", 405: "that cannot be done here"}


def site(house: House) -> ASGIApp:
    """The page as an ASGI application."""
    doors = Doors(house.access, house.keys, house.life)
    handlers = {HTTPException: _of_the_router, NoonpotError: _sentence, Exception: _sentence}
    app = Starlette(routes=routes(house, doors), exception_handlers=handlers)
    app.router.redirect_slashes = False
    return Guard(app, house, doors)


def routes(house: House, doors: Doors) -> list[BaseRoute]:
    """Every route; openapi.json describes those below /api, and /metrics."""
    history, looking = History(house), Looking(house, doors)
    acts, entering, plans = Acts(house, history.book), Entering(house, doors), Plans(house)
    ratings = Ratings(house)
    static = StaticFiles(directory=house.static, check_dir=False)

    async def index(request: Request) -> Response:
        return await static.get_response("index.html", request.scope)

    return [
        Route("/api/station", looking.station, methods=["GET"]),
        Route("/api/now", looking.now, methods=["GET"]),
        Route("/api/live", looking.live, methods=["GET"]),
        Route("/api/health", looking.health, methods=["GET"]),
        Route("/api/cookers/{cooker}/curve", history.curve, methods=["GET"]),
        Route("/api/cookers/{cooker}/rating", ratings.rating, methods=["GET"]),
        Route("/api/cookers/{cooker}/foods", ratings.foods, methods=["GET"]),
        Route("/api/cookers/{cooker}/{verb}", acts.act, methods=["POST"]),
        Route("/api/undo", acts.undo, methods=["POST"]),
        Route("/api/plan", plans.plan, methods=["POST"]),
        Route("/api/cooks", history.cooks, methods=["GET"]),
        Route("/api/cooks/{cook}", history.cook, methods=["GET"]),
        Route("/api/cooks/{cook}/curve", history.cook_curve, methods=["GET"]),
        Route("/api/cooks/{cook}/recording.csv", history.recording, methods=["GET"]),
        Route("/api/cooks/{cook}/table.csv", history.table, methods=["GET"]),
        Route("/api/cooks/{cook}/report.html", history.report, methods=["GET"]),
        Route("/api/session", entering.sign_in, methods=["POST"]),
        Route("/api/session", entering.sign_out, methods=["DELETE"]),
        Route("/api/passphrase", entering.choose, methods=["POST"]),
        Route("/api/shares", entering.shares, methods=["GET"]),
        Route("/api/shares", entering.share, methods=["POST"]),
        Route("/api/shares/{share}", entering.withdraw, methods=["DELETE"]),
        Route("/api/openapi.json", _openapi, methods=["GET"]),
        Route(PATH, Metrics(house).metrics, methods=["GET"]),
        Route("/s/{secret}", entering.follow, methods=["GET"]),
        Route("/", index, methods=["GET"]),
        Mount("/static", static),
    ]


async def _openapi(_: Request) -> Response:
    return Answer(_description())


@lru_cache(maxsize=1)
def _description() -> object:
    return json.loads(OPENAPI.read_text(encoding="utf-8"))


async def _sentence(_: Request, error: Exception) -> Response:
    return worded(error)


async def _of_the_router(_: Request, error: Exception) -> Response:
    """What the router itself refuses, as a sentence."""
    if not isinstance(error, HTTPException):
        raise error
    answer = refused(error.status_code, SAID.get(error.status_code, str(error.detail)))
    answer.headers.update(error.headers or {})
    return answer
