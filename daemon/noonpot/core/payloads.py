"""The bodies of all messages, as plain dicts ready for JSON, and the topics they go to.

Temperatures are °C whatever the household reads; only ``text`` is in its unit. Times are UTC to the
second. What is not known is None. docs/messages.md shows every message to its readers.
"""

import math
import re
from collections.abc import Mapping
from datetime import datetime
from typing import Literal

from noonpot.core.advice import Advice
from noonpot.core.alarms import AlarmRecord
from noonpot.core.alert import Alert, Answer
from noonpot.core.facts import Facts
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment, iso
from noonpot.core.stationfacts import Backup, Readings

Payload = dict[str, object]

ROOT = "noonpot"
BEAT = "beat"  # a topic within the house: the daemon tells its page that it lives
LEVEL = re.compile(r"[^/+#\x00]+")


def topic(*levels: str) -> str:
    """Join names into a topic below ``noonpot``.

    Raises ValueError for an empty name, or one with a character that has a meaning in topics.

    >>> topic("garden", "box", "now")
    'noonpot/garden/box/now'
    """
    for level in levels:
        if LEVEL.fullmatch(level) is None:
            raise ValueError(f"{level!r} cannot be part of a topic; use letters, digits and dashes")
    return "/".join((ROOT, *levels))


def status_payload(
    station: str,
    now: Moment,
    version: str,
    status: Literal["online", "offline"],
    *,
    last_will: bool,
) -> Payload:
    """Whether the station can be heard. A last will is deposited when a connection is opened and
    told by the broker when it breaks, so its ``time`` is that of the opening.
    """
    return {
        "time": iso(now.at),
        "station": station,
        "status": status,
        "last_will": last_will,
        "version": version,
        "clock_trusted": now.trusted,
    }


def now_payload(station: str, facts: Facts, now: Moment, advice: Advice) -> Payload:
    """How one cooker stands; ``advice`` says what to do next."""
    aim = facts.cook.aim if facts.cook else None
    return {
        "time": iso(now.at),
        "station": station,
        "cooker": facts.cooker.name,
        "pot_c": _number(facts.pot_c, 2),
        "core_c": _number(facts.core_c, 2),
        "ambient_c": _number(facts.ambient_c, 2),
        "irradiance_wm2": _number(facts.irradiance_wm2, 1),
        "misaim_deg": _number(facts.misaim_deg, 1),
        "cook": _cook(facts),
        "aim": None
        if aim is None
        else {
            "azimuth_deg": _number(aim.azimuth_deg, 1),
            "elevation_deg": _number(aim.elevation_deg, 1),
        },
        "sun": None
        if facts.sun is None
        else {
            "azimuth_deg": _number(facts.sun.azimuth_deg, 1),
            "elevation_deg": _number(facts.sun.elevation_deg, 1),
            "up": facts.sun_up,
        },
        "safety": None
        if facts.safety is None
        else {
            "unsafe_s": round(facts.safety.course.danger_s),
            "unseen_s": round(facts.safety.course.unknown_s),
            "limit_s": round(facts.safety.limit_s),
            "safe": facts.safety.course.safe,
        },
        "advice": advice.text,
        "advice_alarm": advice.alarm,
        "faults": [
            {"probe": fault.probe, "fault": str(fault.kind), "since": iso(fault.at)}
            for fault in facts.faults
        ],
        "clock_trusted": now.trusted,
    }


def _cook(facts: Facts) -> Payload | None:
    cook, food = facts.cook, facts.food
    if cook is None:
        return None
    return {
        "id": cook.id or None,
        "food": cook.food or None,
        "since": iso(cook.started_at),
        "loaded_at": _time(cook.load.at if cook.load else None),
        "mass_kg": _number(cook.load.mass_kg if cook.load else None, 3),
        "target_c": _number(facts.target_c, 2),
        "loading_pot_c": _number(food.loading_pot_c if food else None, 1),
        "hold_s": None if food is None else round(food.hold_s),
        "meal_at": _time(cook.meal_at),
        "emptied": facts.emptied,
        "hazardous": food is None or food.hazardous,
    }


def forecast_payload(station: str, cooker: str, forecast: Forecast) -> Payload:
    """When the core will reach its target, and how sure that is."""
    return {
        "time": iso(forecast.at),
        "station": station,
        "cooker": cooker,
        "target_c": _number(forecast.target_c, 2),
        "p_done": _number(forecast.p_done, 3),
        "done_p10": _time(forecast.done_p10),
        "done_p50": _time(forecast.done_p50),
        "done_p90": _time(forecast.done_p90),
        "clear_sky_index": _number(forecast.clear_sky_index, 2),
        "misaim_deg": _number(forecast.misaim_deg, 1),
        "turn_saves_s": _number(forecast.turn_saves_s, 0),
        "core_estimated": forecast.core_estimated,
        "curve": [
            {
                "time": iso(point.at),
                "core_p10": _number(point.core_p10, 1),
                "core_p50": _number(point.core_p50, 1),
                "core_p90": _number(point.core_p90, 1),
            }
            for point in forecast.curve
        ],
        "rescue_at": _time(forecast.rescue_at),
        "rescue_because": forecast.rescue_because,
        "reasons": list(forecast.reasons),
    }


def alarm_payload(
    station: str, record: AlarmRecord, now: Moment, *, may_shelve: bool = True
) -> Payload:
    """Where one alarm of one cooker stands; ``may_shelve`` is False for what guards health."""
    return {
        "time": iso(now.at),
        "station": station,
        "cooker": record.cooker,
        "alarm": record.alarm,
        "state": str(record.state),
        "since": iso(record.since.at),
        "priority": str(record.priority),
        "text": record.text,
        "may_shelve": may_shelve,
    }


def alert_payload(station: str, alert: Alert) -> Payload:
    """One thing to tell a person, once."""
    return {
        "id": alert.id,
        "time": iso(alert.at),
        "expires": iso(alert.expires_at),
        "station": station,
        "cooker": alert.cooker,
        "alarm": alert.alarm,
        "state": str(alert.state),
        "priority": str(alert.priority),
        "text": alert.text,
    }


def did_payload(station: str, answer: Answer, now: Moment) -> Payload:
    """What came of a command."""
    return {
        "id": answer.id,
        "time": iso(now.at),
        "station": station,
        "cooker": answer.cooker,
        "verb": answer.verb,
        "done": answer.done,
        "text": answer.text,
    }


def health_payload(
    station: str,
    now: Moment,
    sequence: int,
    lines: Mapping[str, str],
    counts: Mapping[str, int],
    backup: Backup | None = None,
    readings: Readings | None = None,
) -> Payload:
    """How the watcher itself fares. ``sequence`` counts these messages since its start; ``lines``
    say by channel why it reaches nobody now, "" when it does; ``backup`` is None when none is made,
    ``readings`` when nothing is known of them.
    """
    return {
        "time": iso(now.at),
        "station": station,
        "sequence": sequence,
        "channels": [
            {"channel": channel, "problem": problem or None}
            for channel, problem in sorted(lines.items())
        ],
        "counts": dict(sorted(counts.items())),
        "clock_trusted": now.trusted,
        "backup": None
        if backup is None
        else {
            "time": _time(backup.at),
            "problem": backup.problem or None,
            "compared": _time(backup.compared),
        },
        "readings": None
        if readings is None
        else {
            "oldest": _time(readings.oldest),
            "rolled_up": _time(readings.rolled_up),
            "waits_for": readings.waits_for,
        },
    }


def _number(value: float | None, digits: int) -> float | None:
    """Rounded for readers; JSON has no word for what is not finite, so that is None as well."""
    return None if value is None or not math.isfinite(value) else round(float(value), digits)


def _time(at: datetime | None) -> str | None:
    return None if at is None else iso(at)
