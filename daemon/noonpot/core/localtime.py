"""Times of day as people write them, at their place."""

import re
from datetime import date, datetime, time, timedelta, tzinfo

from noonpot.core.sun import solar_midnight
from noonpot.errors import CookError

CLOCK = re.compile(r"(\d{1,2}):(\d\d)")
DAY = timedelta(days=1)


def clock_time(option: str, text: str) -> time:
    """A time of day. Raises CookError when it is none.

    >>> clock_time("--at", "9:30")
    datetime.time(9, 30)
    """
    match = CLOCK.fullmatch(text.strip())
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise CookError(f"{option} is {text!r}, but must be a time of day, such as 14:30")
    return time(int(match[1]), int(match[2]))


def within(day: date, longitude: float, clock: time, timezone: tzinfo) -> datetime:
    """When the clocks of the zone show this time within one solar day: where the zone of the clock
    is far from the sun's, that may be on another date.
    """
    begin = solar_midnight(day, longitude)
    at = datetime.combine(begin.astimezone(timezone).date(), clock, timezone)
    return at if at >= begin else at + DAY


def coming(now: datetime, clock: time, timezone: tzinfo) -> datetime:
    """When the clocks of the zone next show this time."""
    at = datetime.combine(now.astimezone(timezone).date(), clock, timezone)
    return at if at >= now else datetime.combine(at.date() + DAY, clock, timezone)


def day_named(text: str, today: date) -> date:
    """A day as a date, or "today" or "tomorrow". Raises CookError when it is neither.

    >>> day_named("tomorrow", date(2026, 6, 3))
    datetime.date(2026, 6, 4)
    """
    word = text.strip().lower()
    if word in ("today", "tomorrow"):
        return today + DAY * (word == "tomorrow")
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise CookError(
            f'--on is {text!r}, but must be a date such as 2026-06-03, "today" or "tomorrow"'
        ) from None
