"""``noonpot aim --away``: how to leave a cooker, read from and told to a person."""

import json
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta, tzinfo

from noonpot.app.pointing import Pointer
from noonpot.core.absence import Absence, Ending
from noonpot.core.localtime import clock_time
from noonpot.core.moment import iso
from noonpot.core.pointing import AbsenceAdvice
from noonpot.errors import CookError

LENGTH = re.compile(r"(\d+(?:[.,]\d+)?)\s*h\s*(?:(\d+)\s*(?:m|min)?)?|(\d+)\s*m(?:in)?")
LONGEST = timedelta(hours=24)
THERE_DEG = 5.0
"""Nobody need walk to a cooker for less."""


def leave(
    pointer: Pointer,
    cooker: str | None,
    away: str,
    now: datetime,
    timezone: tzinfo,
    *,
    as_json: bool,
) -> None:
    """Print how to leave each cooker asked for. Raises CookError when that makes no sense."""
    absence = absence_of(away, now, timezone)
    for name, found, compass in pointer.absences(cooker, absence):
        if as_json:
            print(json.dumps(_body(name, found, absence, now)))
            continue
        for sentence in _sentences(name, found, absence, now, timezone):
            print(sentence)
        if compass:
            print(f"  {compass}")


def absence_of(text: str, now: datetime, timezone: tzinfo) -> Absence:
    """The absence that a person named: ``3h``, ``90min``, ``1h 30min`` from now on, or
    ``11:00-15:00`` of today by the station's clock. Raises CookError when it is none.
    """
    begin, dash, end = text.replace("\N{EN DASH}", "-").partition("-")
    if not dash:
        return _of(now, now + _length(text))
    today = now.astimezone(timezone)
    since, until = (
        datetime.combine(today.date(), clock_time("--away", clock), timezone)
        for clock in (begin, end)
    )
    if until <= since:
        raise CookError(f"--away {text} ends before it begins; write the earlier time first")
    if since < today.replace(second=0, microsecond=0):
        raise CookError(
            f"--away {text} begins in the past, it is {today:%H:%M} now; "
            f"write a later time, or how long you will be away, such as 3h"
        )
    return _of(max(since, today), until)


def _length(text: str) -> timedelta:
    match = LENGTH.fullmatch(text.strip().lower())
    if match is None:
        raise CookError(
            f"--away is {text!r}, but must be a length of time, such as 3h or 90min, "
            "or two times of day, such as 11:00-15:00"
        )
    hours, more, minutes = (float((part or "0").replace(",", ".")) for part in match.groups())
    length = timedelta(hours=hours, minutes=more + minutes)
    if not timedelta(0) < length <= LONGEST:
        raise CookError(f"--away is {text}, but must be above 0 and at most 24h")
    return length


def _of(since: datetime, until: datetime) -> Absence:
    return Absence(since.timestamp(), until.timestamp())


def _body(name: str, found: AbsenceAdvice, absence: Absence, now: datetime) -> Mapping[str, object]:
    """The advice for a machine."""
    best, shadow = found.best, found.shadow
    return {
        "cooker": name,
        "time": iso(now),
        "away_from": iso(datetime.fromtimestamp(absence.since_s, UTC)),
        "away_to": iso(datetime.fromtimestamp(absence.until_s, UTC)),
        "azimuth_true_deg": round(best.aim.azimuth_deg, 1),
        "azimuth_magnetic_deg": round(found.azimuth_magnetic_deg, 1),
        "elevation_deg": round(best.aim.elevation_deg, 1),
        "shadow_azimuth_deg": None if shadow is None else round(shadow.azimuth_deg, 1),
        "shadow_length": None if shadow is None else round(shadow.length, 2),
        "good_until": iso(found.until),
        "present_off_deg": None if found.off_deg is None else round(found.off_deg, 1),
        "light_cost": round(best.cost, 3),
        **_ending("left", best.left),
        **_ending("turned", best.turned),
    }


def _ending(name: str, ending: Ending | None) -> Mapping[str, object]:
    done_s = None if ending is None else ending.done_s
    return {
        f"{name}_p_done": None if ending is None else round(ending.p_done, 3),
        f"{name}_done_p50": None if done_s is None else iso(datetime.fromtimestamp(done_s, UTC)),
    }


def _sentences(
    name: str, found: AbsenceAdvice, absence: Absence, now: datetime, timezone: tzinfo
) -> Iterator[str]:
    """The advice for a person."""
    best = found.best
    later = absence.since_s > now.timestamp()
    begin = f"from {_clock(absence.since_s, timezone)} " if later else ""
    lost = ", when the sun is lost" if found.until.timestamp() < absence.until_s else ""
    yield (
        f"{name}: {begin}leave it at {best.aim.azimuth_deg:.0f}° true, "
        f"{found.azimuth_magnetic_deg:.0f}° by compass, tilt {best.aim.elevation_deg:.0f}° above "
        f"the horizon; good until {found.until.astimezone(timezone):%H:%M}{lost}."
    )
    if found.shadow is not None:
        aside = (best.aim.azimuth_deg - found.shadow.azimuth_deg) % 360 - 180
        yield (
            f"  An upright peg of 1 m now throws a shadow of {found.shadow.length:.2f} m towards "
            f"{found.shadow.azimuth_deg:.0f}°; the aim lies {abs(aside):.0f}° to the "
            f"{'right' if aside > 0 else 'left'} of the sun. Do not look into sun or mirrors."
        )
    if best.left is None or best.turned is None:
        yield f"  Under a clear sky that costs {_price(best.cost)}."
    else:
        yield f"  That costs {_price(best.cost)}; {_chances(best.left, best.turned, timezone)}."
    if found.off_deg is not None and found.off_deg <= THERE_DEG:
        yield f"  It points there already, within {max(found.off_deg, 1):.0f}°."


def _price(cost: float) -> str:
    return f"{100 * cost:.0f} % of the light against turning every half hour"


def _chances(left: Ending, turned: Ending, timezone: tzinfo) -> str:
    told = "chance of being done " + _against(
        f"{100 * left.p_done:.0f} %", f"{100 * turned.p_done:.0f} %"
    )
    if left.done_s is None or turned.done_s is None:
        return told
    clocks = (_clock(ending, timezone) for ending in (left.done_s, turned.done_s))
    return f"{told}, if so at about {_against(*clocks)}"


def _against(this: str, other: str) -> str:
    return f"{this} either way" if this == other else f"{this} instead of {other}"


def _clock(at_s: float, timezone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(at_s, timezone):%H:%M}"
