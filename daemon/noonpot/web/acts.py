"""Routes by which a person says what was done: each act becomes a letter to the daemon.

An act has an id of its own. What comes again under it, because an answer was lost on the way, is
answered again and happens once: its letter has the id in its name.
"""

import asyncio
import re
from collections import OrderedDict
from collections.abc import Mapping
from datetime import datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from noonpot.core.cook import Event, EventKind
from noonpot.core.orders import Known, Verb, aim_at, is_turned, kind_and_detail
from noonpot.core.stationfacts import OWN
from noonpot.errors import RequestError
from noonpot.web.answers import Answer, act_id, known_keys, no_cook, refused, text_of, told
from noonpot.web.cookbook import CookBook
from noonpot.web.house import House

LOOK_S = 0.1
MOST_REMEMBERED = 500
OF_STATION = (Verb.ACKNOWLEDGE, Verb.SHELVE)
LONGEST_LETTER = 120
LEAST_S = 2e-6
TIMED = re.compile(r"\d{10}\.\d{6}(?=-)", re.ASCII)


class Acts:
    """Takes what people say."""

    def __init__(self, house: House, book: CookBook) -> None:
        self._house = house
        self._book = book
        self._turn = asyncio.Lock()
        self._letters: OrderedDict[str, tuple[str, str]] = OrderedDict()
        cookers = [spec.name for spec in house.about.station.cookers]
        self._known = Known([*cookers, OWN], house.about.alarms, house.about.foods)

    async def act(self, request: Request) -> Response:
        """Something was done at a cooker."""
        cooker, verb = request.path_params["cooker"], request.path_params["verb"]
        if verb not in list(Verb):
            raise RequestError(404, f"nobody can {verb[:40]!r} a cooker; see /api/openapi.json")
        if cooker not in self._known.cookers or (cooker == OWN and verb not in OF_STATION):
            raise RequestError(404, f"there is no cooker {cooker[:40]!r} to {verb}")
        said = await told(request)
        number = act_id(said)
        if is_turned(Verb(verb), said):
            kind, detail = EventKind.AIM, self._at_the_sun(cooker)
        else:
            kind, detail = kind_and_detail(Verb(verb), said, self._known)
        if kind is EventKind.VERDICT:
            cook = await run_in_threadpool(self._book.cook, int(detail["cook"]))
            if cook is None or cook.cooker != cooker:
                raise no_cook(detail["cook"])
        return await self._sent(number, cooker, kind, detail)

    async def undo(self, request: Request) -> Response:
        """Take back what was said a moment ago."""
        said = await told(request)
        number = act_id(said)
        known_keys(said, "letter")
        letter = text_of(said, "letter", LONGEST_LETTER)
        cooker = letter and await run_in_threadpool(self._house.letters.cooker_of, letter)
        if letter is None or cooker is None:
            raise RequestError(404, "nothing was said under this letter, so nothing is taken back")
        return await self._sent(number, cooker, EventKind.UNDO, {"letter": letter}, after=letter)

    def _at_the_sun(self, cooker: str) -> dict[str, str]:
        """Where a cooker points that was just turned to the sun."""
        board = self._house.board
        aim = aim_at(board.topics.get(f"{cooker}/now", {}).get("sun")) if board.alive else None
        if aim is None:
            raise RequestError(
                409, "where the sun stands is not known now; say azimuth and elevation instead"
            )
        return aim

    async def _sent(
        self,
        number: str,
        cooker: str,
        kind: EventKind,
        detail: Mapping[str, str],
        after: str = "",
    ) -> Response:
        """Hand the act in, unless it was before, to be taken after a letter that may still wait;
        then see what comes of it.
        """
        async with self._turn:
            known = self._letters.get(number) or await self._before(number)
            if known is None:
                now = self._house.clock.moment().at
                name = f"{_stamp(now, after)}{_ending(number)}"
                event = Event(cooker, now, kind, detail)
                await run_in_threadpool(self._house.letters.hand_in, event, name)
                known = name, f"{cooker}: {kind}"
            self._letters[number] = known
            if len(self._letters) > MOST_REMEMBERED:
                self._letters.popitem(last=False)
        return await self._answered(number, *known)

    async def _before(self, number: str) -> tuple[str, str] | None:
        """The letter of an act that came before this process began."""
        letters = self._house.letters
        name = await run_in_threadpool(letters.named, _ending(number))
        if name is None:
            return None
        cooker = await run_in_threadpool(letters.cooker_of, name)
        return name, f"{cooker or 'the cooker'}: this was"

    async def _answered(self, number: str, letter: str, about: str) -> Response:
        life, limits = self._house.life, self._house.limits
        end_s = life.moment().mono_s + limits.answer_s
        body = {"id": number, "letter": letter}
        while (fate := await run_in_threadpool(self._house.letters.fate, letter)) is None:
            if life.moment().mono_s >= end_s:
                text = f"{about} handed in; no watch has taken it yet, is 'noonpot run' running?"
                return Answer({**body, "text": text}, 202)
            await asyncio.sleep(LOOK_S)
        if fate:
            return refused(409, fate)
        return Answer({**body, "text": f"{about} noted"})


def _ending(number: str) -> str:
    return f"-page-{number}"


def _stamp(now: datetime, after: str) -> str:
    """How the name of a letter begins: letters are taken in the order of their names, and a clock
    that was set back does not matter to that.
    """
    before = TIMED.match(after)
    since_s = float(before[0]) + LEAST_S if before else 0.0
    return f"{max(now.timestamp(), since_s):017.6f}"
