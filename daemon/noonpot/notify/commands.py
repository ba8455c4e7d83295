"""Commands from the phone: checked, handed in, answered. docs/messages.md shows them all.

Whoever can write to the broker can send anything at all, and send again what he overheard. So a
command counts only when it comes live, is small, carries this station's token, is fresh, and was
not there before. What it then may do is for the watch to decide: it never silences a safety alarm.
"""

import hashlib
import hmac
import logging
import re
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NoReturn

from noonpot.core.alert import Answer
from noonpot.core.cook import Event
from noonpot.core.moment import Moment, utc
from noonpot.core.orders import PHONE_VERBS, Known, Verb, kind_and_detail, utc_time, verb_of
from noonpot.core.payloads import topic
from noonpot.core.strictjson import parsed
from noonpot.errors import CookError, StoreError
from noonpot.ports import Clock, Health, Letter

log = logging.getLogger(__name__)

MOST_BYTES = 4096
FRESH_S = 60.0  # our choice: a phone's clock may be off by some seconds, a message under way too
MOST_IDS = 1000  # no person says so much in the two minutes that matter
ID = re.compile(r"[A-Za-z0-9-]{8,64}", re.ASCII)
LETTER = re.compile(rf"\d+\.\d+-phone-({ID.pattern})", re.ASCII)
COMMON = ("id", "time", "token")

HandIn = Callable[[Event, str], object]


class Refusal(StrEnum):
    """Why a command was not taken; the ends of the names of its counters."""

    RETAINED = "retained"
    OVERSIZED = "oversized"
    UNKNOWN = "unknown"
    MALFORMED = "malformed"
    UNAUTHORISED = "unauthorised"
    UNTIMED = "clock-not-set"
    STALE = "stale"
    FUTURE = "future"
    REPLAYED = "replayed"
    UNWRITTEN = "unwritten"


class _RefusedError(Exception):
    def __init__(self, why: Refusal, words: str) -> None:
        self.why = why
        super().__init__(words)


@dataclass(frozen=True, slots=True)
class _Command:
    """A command of somebody who knows the token; ``rest`` are the keys of its verb, unchecked."""

    id: str
    cooker: str
    verb: Verb
    time: object
    rest: Mapping[str, object]


class Commands:
    """Hears the commands of one station.

    ``hand_in`` puts an event on disk under a name and may raise StoreError; it sees to it that what
    came under one name happens once.
    """

    def __init__(
        self, station: str, token: str, known: Known, clock: Clock, health: Health, hand_in: HandIn
    ) -> None:
        self.filter = f"{topic(station)}/+/do/+"
        self._station = station
        self._token = _digest(token)
        self._known = known
        self._clock = clock
        self._health = health
        self._hand_in = hand_in
        self._seen: deque[str] = deque(maxlen=MOST_IDS)

    def hear(self, to: str, body: bytes, *, retained: bool) -> Answer | None:
        """Take a command, or refuse and count it. What is refused is answered at once, if it came
        from who knows the token; what is taken is answered when it has happened, see ``came_of``.
        """
        try:
            command = self._opened(to, body, retained=retained)
        except _RefusedError as refused:
            self._count(refused)
            return None
        try:
            self._take(command)
        except _RefusedError as refused:
            self._count(refused)
            # What comes twice was answered before, and a second answer would belie the first.
            if refused.why is not Refusal.REPLAYED:
                return Answer(
                    command.id, command.cooker, command.verb, done=False, text=str(refused)
                )
        return None

    def _opened(self, to: str, body: bytes, *, retained: bool) -> _Command:
        if retained:
            _refuse(Refusal.RETAINED, "retained, so nobody can tell how old it is")
        if len(body) > MOST_BYTES:
            _refuse(Refusal.OVERSIZED, f"longer than {MOST_BYTES} bytes")
        cooker, verb = self._address(to)
        said = _parsed(body)
        number, time, token = (said.pop(key) for key in COMMON)
        if not (isinstance(token, str) and hmac.compare_digest(_digest(token), self._token)):
            _refuse(Refusal.UNAUTHORISED, "the token is not this station's")
        if not (isinstance(number, str) and ID.fullmatch(number)):
            _refuse(Refusal.MALFORMED, "id must be 8 to 64 letters, digits or dashes")
        return _Command(number, cooker, verb, time, said)

    def _address(self, to: str) -> tuple[str, Verb]:
        root = f"{topic(self._station)}/"
        cooker, _, verb = to.removeprefix(root).partition("/do/")
        ours = to.startswith(root) and cooker in self._known.cookers
        if not ours or verb not in PHONE_VERBS:
            _refuse(Refusal.UNKNOWN, f"no such cooker or command: {to[:80]!r}")
        return cooker, Verb(verb)

    def _take(self, command: _Command) -> None:
        """Hand the command in; from then on it is safe on disk."""
        now = self._clock.moment()
        name = f"{_fresh_s(command.time, now):017.6f}-phone-{command.id}"
        if command.id in self._seen:
            _refuse(Refusal.REPLAYED, "this id was there before; give each command its own")
        try:
            kind, detail = kind_and_detail(command.verb, command.rest, self._known)
            self._hand_in(Event(command.cooker, now.at, kind, detail), name)
        except CookError as error:
            _refuse(Refusal.MALFORMED, str(error))
        except StoreError as error:
            _refuse(Refusal.UNWRITTEN, str(error))
        self._seen.append(command.id)
        self._health.count("do-taken")

    def _count(self, refused: _RefusedError) -> None:
        """Count a refusal; log the first, second, fourth and so on, lest a flood fills the card."""
        name = f"do-{refused.why}"
        self._health.count(name)
        count = self._health.counts[name]
        if count & (count - 1) == 0:
            log.warning("command refused (%s, %d so far): %s", refused.why, count, refused)


def came_of(letter: Letter, reason: str) -> Answer | None:
    """The answer to what a phone handed in: ``reason`` is empty when it has happened. None when the
    letter did not come from a phone.
    """
    match = LETTER.fullmatch(letter.name)
    if match is None:
        return None
    event = letter.event
    text = reason or f"{event.cooker}: {event.kind} noted"
    return Answer(match[1], event.cooker, verb_of(event.kind), done=not reason, text=text)


def _refuse(why: Refusal, words: str) -> NoReturn:
    raise _RefusedError(why, words)


def _digest(token: str) -> bytes:
    """Of one length whatever was sent, so that comparing takes the same time."""
    return hashlib.sha256(token.encode(errors="surrogatepass")).digest()


def _parsed(body: bytes) -> dict[str, object]:
    """The keys of a command. What JSON forbids, and Python takes, is refused: NaN and doubles."""
    try:
        said = parsed(body)
    except ValueError:
        _refuse(Refusal.MALFORMED, "no JSON object with each key once")
    if not isinstance(said, dict) or not said.keys() >= set(COMMON):
        _refuse(Refusal.MALFORMED, "a command is a JSON object with id, time and token")
    return said


def _fresh_s(time: object, now: Moment) -> float:
    """When the command was given, Unix time [s], if that is now."""
    if not now.trusted:
        _refuse(
            Refusal.UNTIMED,
            "the station's clock is not set, so it cannot tell how old this is; "
            "use its button or 'noonpot cook'",
        )
    try:
        given = utc(utc_time(time))
    except ValueError:
        _refuse(Refusal.MALFORMED, "time must be one in UTC, like 2026-06-03T18:00:00Z")
    age_s = (now.at - given).total_seconds()
    if age_s > FRESH_S:
        _refuse(
            Refusal.STALE, f"given {age_s:.0f} s ago; say it again, and check the phone's clock"
        )
    if age_s < -FRESH_S:
        _refuse(Refusal.FUTURE, f"given {-age_s:.0f} s in the future; check the phone's clock")
    return given.timestamp()
