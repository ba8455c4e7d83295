"""One cook as a value: the meal that it is for."""

from datetime import UTC, datetime

import pytest

from noonpot.core.cook import Event, EventKind, begin
from noonpot.errors import CookError

AT = datetime(2026, 6, 3, 9, 0, tzinfo=UTC)
MEAL = "2026-06-03T18:00:00Z"
SIX = datetime(2026, 6, 3, 18, 0, tzinfo=UTC)


def event(kind: EventKind, at: datetime = AT, **detail: str) -> Event:
    return Event("box", at, kind, detail)


def test_the_meal_is_told_at_the_start_or_at_loading() -> None:
    begun = begin(event(EventKind.START, meal=MEAL))
    assert begun.meal_at == SIX
    assert begun.after(event(EventKind.LOAD)).meal_at == SIX
    later = begun.after(event(EventKind.LOAD, meal="2026-06-03T19:30:00+01:30"))
    assert later.meal_at == SIX
    assert begin(event(EventKind.START)).after(event(EventKind.LOAD)).meal_at is None


def test_what_is_loaded_after_the_meal_is_for_another() -> None:
    begun = begin(event(EventKind.START, meal=MEAL))
    assert begun.after(event(EventKind.LOAD, SIX)).meal_at is None


def test_a_cook_that_is_told_again_knows_its_meal() -> None:
    cook = begin(event(EventKind.START, meal=MEAL)).after(event(EventKind.LOAD, food="bread"))
    again = begin(event(EventKind.START))
    for told in cook.retold():
        again = again.after(told)
    assert again.meal_at == SIX


@pytest.mark.parametrize("text", ["18:00", "2026-06-03T18:00:00", "supper", ""])
def test_a_meal_that_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(CookError, match=f"meal={text} is not a time; write it in UTC"):
        begin(event(EventKind.START, meal=text))
