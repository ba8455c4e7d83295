"""The lines of many stations as JSON, for whoever else shows them."""

from datetime import datetime

from noonpot.core.moment import iso
from noonpot.core.payloads import Payload
from noonpot.core.sighting import Stand
from noonpot.core.stationline import Line, Waiting


def line_json(line: Line) -> Payload:
    """One line for a machine. Without ``live`` it was so at ``as_of``, and may not be now."""
    stand, chance = line.stand, line.chance
    return {
        "station": line.station,
        "cooker": line.cooker or None,
        "state": str(line.state),
        "since": _iso(line.since),
        "live": line.live,
        "as_of": _iso(line.as_of),
        "clock_trusted": None if stand is None else stand.trusted,
        "cook": _cook_json(stand),
        "pot_c": None if stand is None else stand.pot_c,
        "core_c": None if stand is None else stand.core_c,
        "p_done": None if chance is None else chance.p_done,
        "done_p10": None if chance is None else _iso(chance.done_p10),
        "done_p50": None if chance is None else _iso(chance.done_p50),
        "done_p90": None if chance is None else _iso(chance.done_p90),
        "advice": None if stand is None else stand.advice,
        "alarms": [_alarm_json(one) for one in line.alarms],
        "answered": line.answered,
        "problems": list(line.problems),
        "rank": line.rank,
    }


def _cook_json(stand: Stand | None) -> Payload | None:
    if stand is None or not stand.cooking:
        return None
    return {
        "food": stand.food or None,
        "mass_kg": stand.mass_kg,
        "target_c": stand.target_c,
        "loaded_at": _iso(stand.loaded_at),
        "emptied": stand.emptied,
        "hazardous": stand.hazardous,
    }


def _alarm_json(one: Waiting) -> Payload:
    return {
        "alarm": one.alarm,
        "state": str(one.said.state),
        "priority": str(one.said.priority),
        "since": iso(one.said.since),
        "text": one.said.text,
    }


def _iso(at: datetime | None) -> str | None:
    return None if at is None else iso(at)
