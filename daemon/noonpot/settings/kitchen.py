"""The section [rescue]: the other heat, for food that the sun leaves raw."""

from typing import Annotated

from pydantic import Field

from noonpot.core.rescue import OtherHeat
from noonpot.settings.schema import Section
from noonpot.settings.words import Wants

USUAL = OtherHeat()


class RescueSection(Section):
    """[rescue]: how fast another heat is, and how long food may stand lukewarm."""

    ready_min: Annotated[
        float,
        Field(ge=0, le=240),
        Wants("0 to 240 minutes until the other heat is hot and the food on it", "15 is usual"),
    ] = USUAL.ready_s / 60
    stove_w: Annotated[
        float,
        Field(ge=50, le=10_000),
        Wants("50 to 10000 watts that reach a pot on it", "take half of what the plate draws"),
    ] = USUAL.stove_w
    oven_min: Annotated[
        float,
        Field(ge=5, le=600),
        Wants("5 to 600 minutes for 1 kg of bread or roast from cold", "60 is usual"),
    ] = USUAL.oven_s / 60
    limit_h: Annotated[
        float,
        Field(ge=0.5, le=4),
        Wants("0.5 to 4 hours that food may stand between 5 and 57 °C", "4 is the most"),
    ] = USUAL.limit_s / 3600


def other_heat(section: RescueSection) -> OtherHeat:
    """The section in seconds and watts."""
    return OtherHeat(
        ready_s=60 * section.ready_min,
        stove_w=section.stove_w,
        oven_s=60 * section.oven_min,
        limit_s=3600 * section.limit_h,
    )
