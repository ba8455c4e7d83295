"""Messages of stations read by a stranger: nothing in them is believed before it was looked at.

Keys that are not known are left alone: a newer station may send them.
"""

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TypeVar

from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Priority
from noonpot.core.moment import utc
from noonpot.core.orders import LAST_YEAR
from noonpot.core.sighting import Address, Chance, Part, Presence, Pulse, Sighting, Stand, Standing

LONGEST_TEXT = 300
LONGEST_WORD = 60
MOST_LISTED = 8  # of faults and channels; a line has no room for more
COLDEST_C = -273.15
HOTTEST_C = 2000.0  # beyond what any probe of a cooker can say
HEAVIEST_KG = 1000.0
FIRST_YEAR = 1970  # a clock that was never set begins there
K = TypeVar("K")
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


def sighting(where: Address, body: object) -> Sighting:
    """What a message says. Raises ValueError for one that no station would send there, so also
    when it names another station or cooker than its topic.
    """
    told = _Fields(body)
    names = {"station": where.station, "cooker": where.cooker, "alarm": where.alarm}
    if any(told.raw.get(key) != name for key, name in names.items() if name):
        raise ValueError("it names another than its topic")
    return READERS[where.part](told)


class _Fields:
    """The keys of a JSON object; each reader raises ValueError for what is not as it should be."""

    def __init__(self, body: object) -> None:
        self.raw: Mapping[str, object] = _typed("it", body, dict)

    def number(self, key: str, low: float, high: float) -> float | None:
        value = self._of(key)
        if value is None:
            return None
        if isinstance(value, bool):
            raise ValueError(f"{key} is no number")  # noqa: TRY004  all strange values are alike
        number = value if isinstance(value, int) else _typed(key, value, float)
        if not low <= number <= high:  # what is not a number is in no range, either
            raise ValueError(f"{key} cannot be")
        return float(number)

    def flag(self, key: str) -> bool:
        return _typed(key, self._of(key), bool)

    def text(self, key: str, most: int = LONGEST_TEXT) -> str:
        return plain(_typed(key, self._of(key), str), most)

    def text_or_none(self, key: str, most: int = LONGEST_TEXT) -> str:
        return "" if self._of(key) is None else self.text(key, most)

    def time(self, key: str) -> datetime:
        value = _typed(key, self._of(key), str)
        if TIME.fullmatch(value) is None:
            raise ValueError(f"{key} is no time")
        at = utc(value)
        if not FIRST_YEAR <= at.year < LAST_YEAR:
            raise ValueError(f"{key} is no time of a station")
        return at

    def time_or_none(self, key: str) -> datetime | None:
        return None if self._of(key) is None else self.time(key)

    def object_or_none(self, key: str) -> "_Fields | None":
        value = self._of(key)
        return None if value is None else _Fields(value)

    def objects(self, key: str) -> "list[_Fields]":
        listed: list[object] = _typed(key, self._of(key), list)
        return [_Fields(one) for one in listed[:MOST_LISTED]]

    def _of(self, key: str) -> object:
        if key not in self.raw:
            raise ValueError(f"{key} is missing")
        return self.raw[key]


def _typed(key: str, value: object, kind: type[K]) -> K:
    if isinstance(value, kind):
        return value
    raise ValueError(f"{key} is of the wrong kind")


def plain(text: str, most: int) -> str:
    r"""The text as it may be shown anywhere: one line, nothing that moves a cursor, turns letters
    round or hides, and no longer than that.

    >>> plain("bread\x1b[2J\u202e!", 40)
    'bread [2J !'
    """
    return "".join(letter if letter.isprintable() else " " for letter in text[:most])


def _presence(told: _Fields) -> Presence:
    status = told.text("status")
    if status not in ("online", "offline"):
        raise ValueError("status is neither online nor offline")
    return Presence(
        at=told.time("time"),
        trusted=told.flag("clock_trusted"),
        online=status == "online",
        last_will=told.flag("last_will"),
        version=told.text("version", LONGEST_WORD),
    )


def _pulse(told: _Fields) -> Pulse:
    channels = [
        (one.text("channel", LONGEST_WORD), one.text_or_none("problem"))
        for one in told.objects("channels")
    ]
    return Pulse(
        at=told.time("time"),
        trusted=told.flag("clock_trusted"),
        problems=tuple(f"{channel}: {problem}" for channel, problem in channels if problem),
    )


def _stand(told: _Fields) -> Stand:
    cook = told.object_or_none("cook")
    return Stand(
        at=told.time("time"),
        trusted=told.flag("clock_trusted"),
        pot_c=told.number("pot_c", COLDEST_C, HOTTEST_C),
        core_c=told.number("core_c", COLDEST_C, HOTTEST_C),
        cooking=cook is not None,
        food=cook.text_or_none("food", LONGEST_WORD) if cook else "",
        mass_kg=cook.number("mass_kg", 0.0, HEAVIEST_KG) if cook else None,
        loaded_at=cook.time_or_none("loaded_at") if cook else None,
        emptied=cook.flag("emptied") if cook else False,
        target_c=cook.number("target_c", COLDEST_C, HOTTEST_C) if cook else None,
        hazardous=cook.flag("hazardous") if cook else False,
        advice=told.text("advice"),
        faults=tuple(
            f"{one.text('probe', LONGEST_WORD)}: {one.text('fault', LONGEST_WORD)}"
            for one in told.objects("faults")
        ),
    )


def _chance(told: _Fields) -> Chance:
    p_done = told.number("p_done", 0.0, 1.0)
    if p_done is None:
        raise ValueError("p_done is no number")
    return Chance(
        at=told.time("time"),
        p_done=p_done,
        done_p10=told.time_or_none("done_p10"),
        done_p50=told.time_or_none("done_p50"),
        done_p90=told.time_or_none("done_p90"),
    )


def _standing(told: _Fields) -> Standing:
    return Standing(
        at=told.time("time"),
        state=AlarmState(told.text("state", LONGEST_WORD)),
        since=told.time("since"),
        priority=Priority(told.text("priority", LONGEST_WORD)),
        text=told.text("text"),
    )


READERS: Mapping[Part, Callable[[_Fields], Sighting]] = {
    Part.STATUS: _presence,
    Part.HEALTH: _pulse,
    Part.NOW: _stand,
    Part.FORECAST: _chance,
    Part.ALARM: _standing,
}
