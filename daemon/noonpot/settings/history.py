"""The section [readings]: how long readings stay as they were read."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from noonpot.settings.schema import Section
from noonpot.settings.values import ReadingsWishes
from noonpot.settings.words import Wants

USUAL = ReadingsWishes()
DAY_S, HOUR_S = 86_400, 3600
LEAST_DAYS = 30
"""Somebody may still look at a month; and a letter that is late is never later."""


def _long_enough(days: int) -> int:
    if 0 < days < LEAST_DAYS:
        raise ValueError
    return days


class ReadingsSection(Section):
    """[readings]: for how many days of watching readings stay whole, and what always does."""

    whole_days: Annotated[
        Annotated[int, Field(ge=0, le=36_500), AfterValidator(_long_enough)] | Literal["never"],
        Wants(
            '30 to 36500 days of watching, or "never" to keep every reading for ever',
            "730 is usual; readings of cooks always stay",
        ),
    ] = (USUAL.whole_s or 0) // DAY_S
    before_cook_h: Annotated[
        float,
        Field(ge=0, le=48),
        Wants("0 to 48 hours before each cook", "2 is usual: the cooker gets hot"),
    ] = USUAL.before_s / HOUR_S
    after_cook_h: Annotated[
        float,
        Field(ge=0, le=48),
        Wants("0 to 48 hours after each cook", "6 is usual: the food and the cooker grow cold"),
    ] = USUAL.after_s / HOUR_S


def readings_wishes(section: ReadingsSection) -> ReadingsWishes:
    """The section as values."""
    days = section.whole_days
    return ReadingsWishes(
        whole_s=days * DAY_S if isinstance(days, int) and days else None,
        before_s=round(section.before_cook_h * HOUR_S),
        after_s=round(section.after_cook_h * HOUR_S),
    )
