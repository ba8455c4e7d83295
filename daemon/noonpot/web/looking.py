"""Routes to what is now: the station, the last states, the live stream, how all parts fare."""

import json
from collections.abc import AsyncIterator
from datetime import timedelta

from sse_starlette import EventSourceResponse, ServerSentEvent
from sse_starlette.sse import SendTimeoutError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from noonpot.core.calibration import Standing, standing
from noonpot.core.faultwords import WORDS
from noonpot.core.foods import target_at
from noonpot.core.moment import iso
from noonpot.core.readings import FaultKind, Role
from noonpot.core.stationfacts import OWN
from noonpot.errors import RequestError, StoreError
from noonpot.web.answers import Answer
from noonpot.web.board import Payload
from noonpot.web.doors import Doors, Visitor
from noonpot.web.house import House

COMMENT_S = 15
PATIENCE_S = 10.0
FRESH = timedelta(minutes=10)
PRIVATE = (
    "station",
    "timezone",
    "latitude",
    "longitude",
    "elevation_m",
    "boiling_c",
    "declination_deg",
)


class _Stream(EventSourceResponse):
    """Ends when the viewer takes nothing any more: a phone that fell asleep is no fault."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        except* SendTimeoutError:
            pass


class Looking:
    """What can be seen of the station now."""

    def __init__(self, house: House, doors: Doors) -> None:
        self._house = house
        self._doors = doors

    async def station(self, request: Request) -> Response:
        """What the station is, and what this viewer may do. A stranger only learns the latter."""
        visitor = visitor_of(request)
        about = self._house.about
        station, place = about.station, about.station.place
        seen: dict[str, object] = dict.fromkeys(PRIVATE)
        seen |= {"units": about.units, "version": about.version, "cookers": [], "foods": []}
        if visitor.may_read:
            seen |= {
                "station": station.name,
                "timezone": str(about.timezone),
                "latitude": place.latitude,
                "longitude": place.longitude,
                "elevation_m": place.elevation_m,
                "boiling_c": round(about.boiling_c, 2),
                "declination_deg": round(about.declination_deg, 2),
                "cookers": [
                    {
                        "name": spec.name,
                        "aperture_m2": spec.aperture_m2,
                        "acceptance_deg": spec.acceptance_deg,
                    }
                    for spec in station.cookers
                ],
                "foods": self._foods(),
            }
        viewer = {
            "may_write": visitor.may_write,
            "needs_passphrase": self._doors.locked and not visitor.may_read,
            "first_run": self._doors.first_run,
            "shared": visitor.shared,
        }
        return Answer({**seen, "viewer": viewer, "token": visitor.token})

    async def now(self, _: Request) -> Response:
        """The last state of every topic."""
        board = self._house.board
        return Answer({"time": board.time, "topics": board.topics})

    async def live(self, request: Request) -> Response:
        """The same, then all news as they come."""
        board = self._house.board
        if board.viewers >= self._house.limits.viewers:
            raise RequestError(
                429, f"{board.viewers} look at this already; close some pages and try again"
            )
        cookie = request.headers.get("cookie", "")
        token = request.headers.get("authorization", "")

        def welcome() -> bool:
            return self._doors.visitor(cookie, token).may_read

        async def news() -> AsyncIterator[ServerSentEvent]:
            async for one in board.look(welcome):
                yield ServerSentEvent(
                    json.dumps(one.body, separators=(",", ":")), event=one.kind, sep="\n"
                )

        return _Stream(news(), ping=COMMENT_S, send_timeout=PATIENCE_S, sep="\n")

    async def health(self, _: Request) -> Response:
        """How all parts fare."""
        board = self._house.board
        card = await run_in_threadpool(self._house.archive.card)
        told = board.topics.get("health")
        faults = self._faults()
        probes = [
            {
                **shown,
                "fault": faults.get(str(shown["name"])),
                "cure": _cure(faults.get(str(shown["name"]))),
            }
            for shown in await run_in_threadpool(self._probes)
        ]
        alarms = [p for t, p in board.topics.items() if t.startswith(f"{OWN}/alarm/")]
        trusted = self._house.clock.moment().trusted
        return Answer(
            {
                "health": told,
                "probes": probes,
                "store": {
                    "bytes": card.size,
                    "free_bytes": card.free,
                    "problem": card.problem,
                },
                "clock": {"trusted": bool(told.get("clock_trusted")) if told else trusted},
                "alarms": alarms,
                "backup": told.get("backup") if told else None,
                "page": {
                    "viewers": board.viewers,
                    "alive": board.alive,
                    "refused": self._house.refusals.told(),
                },
            }
        )

    def _foods(self) -> list[dict[str, object]]:
        boiling_c = self._house.about.boiling_c
        return [
            {
                "name": food.name,
                "target_c": round(target_at(food, boiling_c).temp_c, 2),
                "hold_s": food.hold_s,
                "wet": food.wet,
                "hazardous": food.hazardous,
                "loading_pot_c": food.loading_pot_c,
                "caution": food.caution,
            }
            for _, food in sorted(self._house.about.foods.items())
        ]

    def _probes(self) -> list[dict[str, object]]:
        """Every probe with its last value; without any while the file cannot be read."""
        now = self._house.clock.moment().at
        try:
            values = self._house.archive.last_values(now - FRESH, now)
            known = self._house.archive.calibrations()
        except StoreError:
            values, known = {}, {}
        shown: list[dict[str, object]] = []
        for probe in self._house.about.station.probes:
            value, at = values.get(probe.name, (None, None))
            shown.append(
                {
                    "name": probe.name,
                    "role": str(probe.role),
                    "cooker": probe.cooker,
                    "value": value,
                    "time": None if at is None else iso(at),
                    "calibration": None
                    if probe.role is Role.IRRADIANCE
                    else _calibration(standing(known.get(probe.name), probe, now)),
                }
            )
        return shown

    def _faults(self) -> dict[str, str]:
        """The fault of each probe that has one, as the cookers show it."""
        topics = self._house.board.topics
        states = [p for topic, p in topics.items() if topic.endswith("/now")]
        return {probe: fault for state in states for probe, fault in _faults_of(state)}


def visitor_of(request: Request) -> Visitor:
    """Who the guard has found to ask."""
    found = request.state.visitor
    if not isinstance(found, Visitor):
        raise TypeError
    return found


def _calibration(stands: Standing) -> dict[str, object]:
    at = None if stands.at is None else iso(stands.at)
    return {"time": at, "due": stands.due, "words": stands.words}


def _faults_of(state: Payload) -> list[tuple[str, str]]:
    faults = state.get("faults")
    listed = faults if isinstance(faults, list) else []
    return [(str(f["probe"]), str(f["fault"])) for f in listed if isinstance(f, dict)]


def _cure(fault: str | None) -> str | None:
    return WORDS[FaultKind(fault)].cure if fault in list(FaultKind) else None
