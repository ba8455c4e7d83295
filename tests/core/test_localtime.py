"""Times of day as people write them."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from noonpot.core.localtime import clock_time, coming, day_named, within
from noonpot.errors import CookError

DENVER = ZoneInfo("America/Denver")
TODAY = date(2026, 6, 3)


@pytest.mark.parametrize("text", ["24:00", "12:60", "noon", "12", "12:5", "-1:00", ""])
def test_what_is_no_time_of_day_is_told(text: str) -> None:
    with pytest.raises(CookError, match="must be a time of day, such as 14:30"):
        clock_time("--at", text)


def test_a_time_is_that_of_the_zone() -> None:
    at = within(TODAY, -105.0, time(12, 30), DENVER)
    assert at.astimezone(UTC) == datetime(2026, 6, 3, 18, 30, tzinfo=UTC)


@pytest.mark.parametrize(("clock", "day"), [(time(19), 3), (time(1), 4)])
def test_where_the_clock_is_far_from_the_sun_the_date_may_be_the_next(
    clock: time, day: int
) -> None:
    assert within(TODAY, -105.0, clock, UTC) == datetime(2026, 6, day, clock.hour, tzinfo=UTC)


def test_a_meal_is_the_next_time_the_clock_shows_it() -> None:
    now = datetime(2026, 6, 3, 20, 0, tzinfo=UTC)  # 14:00 in Denver
    assert coming(now, time(18), DENVER).astimezone(UTC) == datetime(2026, 6, 4, 0, tzinfo=UTC)
    assert coming(now, time(9), DENVER).date() == date(2026, 6, 4)


def test_a_day_is_a_date_or_a_word() -> None:
    assert day_named("Today", TODAY) == TODAY
    assert day_named("2026-12-24", TODAY) == date(2026, 12, 24)
    with pytest.raises(CookError, match="must be a date such as"):
        day_named("monday", TODAY)
