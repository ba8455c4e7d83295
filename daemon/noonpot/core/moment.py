"""One instant on both clocks."""

from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class Moment:
    """The same instant twice: ``at`` in UTC for people and the sun, ``mono_s`` [s] for durations.

    ``trusted`` is False while the wall clock has not been set since boot: whatever needs the sun
    then waits, temperature alarms go on.
    """

    at: datetime
    mono_s: float
    trusted: bool = True

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError(f"time {self.at.isoformat()} has no time zone; give it in UTC")


# Before the first line of this program was written.
EARLIEST = datetime(2024, 1, 1, tzinfo=UTC)


def is_plausible(at: datetime) -> bool:
    """Whether a clock that shows this time can have been set.

    >>> is_plausible(utc("1970-01-01T00:00:20Z")), is_plausible(utc("2026-06-03T07:24:00Z"))
    (False, True)
    """
    return at >= EARLIEST


def utc(text: str) -> datetime:
    """Parse an ISO 8601 time that names its zone.

    Raises ValueError when the text is no time, names no zone, or is a time in UTC that no calendar
    here has: the first hours of the year 1 and the last of 9999 are in other years elsewhere.

    >>> utc("2016-06-03T07:24:00Z").isoformat()
    '2016-06-03T07:24:00+00:00'
    """
    at = datetime.fromisoformat(text)
    if at.utcoffset() is None:
        raise ValueError(f"time {text!r} names no zone; write it in UTC with a Z at its end")
    try:
        return at.astimezone(UTC)
    except OverflowError:
        raise ValueError(f"time {text!r} is outside of all calendars") from None


def iso(at: datetime) -> str:
    """The time as ISO 8601 UTC to the second, ending in Z.

    >>> iso(utc("2016-06-03T09:24:00.4+02:00"))
    '2016-06-03T07:24:00Z'
    """
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
