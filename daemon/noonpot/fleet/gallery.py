"""The lines as the page shows them: made once for all who look, and only what is new is sent."""

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Sequence
from dataclasses import dataclass, field

from noonpot.core.moment import iso
from noonpot.core.payloads import Payload
from noonpot.core.stationjson import line_json
from noonpot.core.stationline import Line
from noonpot.core.stationwords import ignored, summary
from noonpot.fleet.board import Board
from noonpot.ports import Clock

MOST_LINES = 500  # the worst ones; nobody reads more, and a phone need not hold them
MOST_VIEWERS = 32
LOOK_S = 1.0
SHARE = 10  # making the lines may take a tenth of the time
BEAT_S = 15.0  # something is sent so often, that a page knows it is not cut off


@dataclass(frozen=True, slots=True)
class Picture:
    """All that is shown at one moment: ``bodies`` are the lines as JSON by their key, the worst
    first.
    """

    about: Payload
    bodies: dict[str, str] = field(default_factory=dict)


class Gallery:
    """Shows the board to pages. Lives in one event loop.

    ``problem`` says why the broker cannot be heard, "" while it can; ``unit`` is "C" or "F".
    """

    def __init__(self, board: Board, problem: Callable[[], str], clock: Clock, unit: str) -> None:
        self._board = board
        self._problem = problem
        self._clock = clock
        self._unit = unit
        self._picture: Picture | None = None
        self._again_s = 0.0
        self._closed = asyncio.Event()
        self.viewers = 0

    def close(self) -> None:
        """Let everybody go."""
        self._closed.set()

    def picture(self) -> Picture:
        """What is shown now; at most a second old."""
        begun = self._clock.moment()
        if self._picture is None or begun.mono_s >= self._again_s:
            problem = self._problem()
            found = self._board.lines(connected=not problem)
            self._picture = self._painted(found, problem, iso(begun.at))
            ended_s = self._clock.moment().mono_s
            self._again_s = ended_s + max(LOOK_S, SHARE * (ended_s - begun.mono_s)) / 2
        return self._picture

    async def look(self) -> AsyncIterator[str]:
        """The news as JSON: at first everything, then what has changed and which lines there are,
        the worst first.
        """
        sent: dict[str, int] = {}
        about: Payload = {}
        quiet_s = 0.0
        self.viewers += 1
        try:
            while not self._closed.is_set():
                picture = self.picture()
                news = {
                    key: body for key, body in picture.bodies.items() if sent.get(key) != hash(body)
                }
                moved = list(sent) != list(picture.bodies)
                told = {key: value for key, value in picture.about.items() if key != "time"}
                if news or moved or told != about or quiet_s >= BEAT_S:
                    yield _event(picture, news, moved=moved)
                    sent = {key: hash(body) for key, body in picture.bodies.items()}
                    about, quiet_s = told, 0.0
                quiet_s += LOOK_S
                try:
                    await asyncio.wait_for(self._closed.wait(), LOOK_S)
                except TimeoutError:
                    continue
        finally:
            self.viewers -= 1

    def whole(self) -> str:
        """Everything, as one JSON text, with the count of what was heard."""
        picture = self.picture()
        counted = Picture({**picture.about, "counts": dict(self._board.counts)}, picture.bodies)
        return _event(counted, picture.bodies, moved=True)

    def _painted(self, found: Sequence[Line], problem: str, time: str) -> Picture:
        shown = found[:MOST_LINES]
        about: Payload = {
            "time": time,
            "summary": summary(found),
            "problem": problem or None,
            "ignored": ignored(self._board.counts) or None,
            "more": len(found) - len(shown),
            "unit": self._unit,
        }
        bodies = {
            line.key: json.dumps(line_json(line), ensure_ascii=False, separators=(",", ":"))
            for line in shown
        }
        return Picture(about, bodies)


def _event(picture: Picture, bodies: dict[str, str], *, moved: bool) -> str:
    """The bodies are JSON already, so they are set in as they are."""
    about = dict(picture.about)
    if moved:
        about["order"] = list(picture.bodies)
    head = json.dumps(about, ensure_ascii=False, separators=(",", ":"))
    lines = ",".join(f"{json.dumps(key)}:{body}" for key, body in bodies.items())
    return f'{head[:-1]},"lines":{{{lines}}}}}'
