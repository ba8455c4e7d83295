"""What a person may say from the phone or the page: the keys of each verb, and the event that they
make.
"""

import contextlib
import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from noonpot.core.cook import EventKind
from noonpot.core.moment import iso, utc
from noonpot.core.names import meant
from noonpot.errors import CookError

LONGEST_NOTE = 200
LONGEST_WORDS = 40
SPOT_C = (-20, 150)  # what a thermometer in food can show; more was °F, or a slip
LAST_YEAR = 2200  # a meal later than that is a slip, and no calendar has to bear it
TURNED = "turned"  # a mark of the page; the watch hears an aim
UTC_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z", re.ASCII)

Detail = dict[str, str]
Said = Mapping[str, object]


class Verb(StrEnum):
    """What can be said of a cooker from afar."""

    AIM = "aim"
    LOAD = "load"
    UNLOAD = "unload"
    MARK = "mark"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    START = "start"
    STOP = "stop"
    VERDICT = "verdict"


PHONE_VERBS = (Verb.AIM, Verb.LOAD, Verb.UNLOAD, Verb.MARK, Verb.ACKNOWLEDGE, Verb.SHELVE)
"""What may come through the broker. Beginning and ending a cook is left to who stands before the
station's own page or command line: who ends one ends the watch over the food.
"""


@dataclass(frozen=True, slots=True)
class Known:
    """The names that a command may use."""

    cookers: Collection[str]
    alarms: Collection[str]
    foods: Collection[str]


@dataclass(frozen=True, slots=True)
class _Key:
    """One key of a verb: ``text`` turns its value into the detail of an event, and raises
    ValueError with what it must be.
    """

    name: str
    text: Callable[[object], str]
    optional: bool = False


def utc_time(value: object) -> str:
    """A time in UTC as it was given. Raises ValueError for anything else."""
    if isinstance(value, str) and UTC_TIME.fullmatch(value):
        with contextlib.suppress(ValueError):
            utc(value)
            return value
    raise ValueError("a time in UTC, like 2026-06-03T18:00:00Z")


def kind_and_detail(verb: Verb, said: Said, known: Known) -> tuple[EventKind, Detail]:
    """The event that a command makes; ``said`` are its keys besides those of every command.

    Raises CookError when a key is missing, strange or has a value that cannot be.
    """
    if verb is Verb.MARK:
        return _mark(said)
    return EventKind(verb), _detail(verb, said, _keys(verb, known))


def is_turned(verb: Verb, said: Said) -> bool:
    """Whether this says that a cooker was turned to the sun, wherever that stands.

    Raises CookError when it says more than that.
    """
    if verb is not Verb.MARK or said.get("what") != TURNED:
        return False
    _detail(f"mark {TURNED}", {key: said[key] for key in said if key != "what"}, [])
    return True


def aim_at(sun: object) -> Detail | None:
    """The aim of a cooker that was just turned to the sun; ``sun`` is as a cooker's state shows it
    [degrees]. None when that tells of no sun that is up.
    """
    if not isinstance(sun, Mapping) or not sun.get("up"):
        return None
    return {"azimuth": str(sun["azimuth_deg"]), "elevation": str(sun["elevation_deg"])}


def verb_of(kind: EventKind) -> Verb:
    """The verb that makes such an event."""
    return next((verb for verb in Verb if verb.value == kind.value), Verb.MARK)


def _keys(verb: Verb, known: Known) -> list[_Key]:
    match verb:
        case Verb.AIM:
            return [_Key("azimuth", _number(0, 360)), _Key("elevation", _number(0, 90))]
        case Verb.START:
            return _dish(known)
        case Verb.LOAD:
            return [
                *_dish(known),
                _Key("mass_kg", _number(0.001, 50), optional=True),
                _Key("start_c", _number(-40, 400), optional=True),
            ]
        case Verb.ACKNOWLEDGE:
            return [_Key("alarm", _one_of(known.alarms))]
        case Verb.SHELVE:
            minutes = _Key("minutes", _number(1, 120), optional=True)
            return [_Key("alarm", _one_of(known.alarms)), minutes]
        case Verb.VERDICT:
            return [
                _Key("cook", _whole(1, 2**53)),
                _Key("rating", _whole(1, 5), optional=True),
                _Key("crumb", _words(LONGEST_WORDS), optional=True),
                _Key("browning", _words(LONGEST_WORDS), optional=True),
                _Key("text", _words(LONGEST_NOTE), optional=True),
            ]
        case _:
            return []


def _dish(known: Known) -> list[_Key]:
    return [
        _Key("food", _one_of(known.foods), optional=True),
        _Key("target_c", _number(-40, 400), optional=True),
        _Key("meal", _meal, optional=True),
    ]


def _mark(said: Said) -> tuple[EventKind, Detail]:
    keys = {
        EventKind.LID: [],
        EventKind.NOTE: [_Key("text", _words(LONGEST_NOTE))],
        EventKind.SPOT: [_Key("core_c", _number(*SPOT_C))],
    }
    what = _detail("mark", {"what": said.get("what")}, [_Key("what", _one_of(keys))])["what"]
    kind = EventKind(what)
    rest = {key: value for key, value in said.items() if key != "what"}
    return kind, _detail(f"mark {what}", rest, keys[kind])


def _detail(verb: str, said: Said, keys: list[_Key]) -> Detail:
    strange = sorted(said.keys() - {key.name for key in keys})
    if strange:
        raise CookError(f"{verb} has no key {strange[0][:40]!r}; leave it out")
    detail = {}
    for key in keys:
        if key.optional and key.name not in said:
            continue
        try:
            detail[key.name] = key.text(said.get(key.name))
        except ValueError as error:
            raise CookError(f"{verb}: {key.name} must be {error}") from None
    return detail


def _number(low: float, high: float) -> Callable[[object], str]:
    def text(value: object) -> str:
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return f"{value:.10g}"
        raise ValueError(f"a number from {low:g} to {high:g}")

    return text


def _one_of(names: Collection[str]) -> Callable[[object], str]:
    def text(value: object) -> str:
        word = value if isinstance(value, str) else ""
        if word in names:
            return word
        raise ValueError(f"a known name; {meant(word[:40], names)}")

    return text


def _whole(low: int, high: int) -> Callable[[object], str]:
    def text(value: object) -> str:
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return str(value)
        raise ValueError(f"a whole number from {low} to {high}")

    return text


def _meal(value: object) -> str:
    at = utc(utc_time(value))
    if at.year >= LAST_YEAR:
        raise ValueError(f"before the year {LAST_YEAR}")
    return iso(at)


def _words(longest: int) -> Callable[[object], str]:
    def text(value: object) -> str:
        if isinstance(value, str) and value.isprintable() and 0 < len(value.strip()) <= longest:
            return value.strip()
        raise ValueError(f"1 to {longest} letters in one line")

    return text
