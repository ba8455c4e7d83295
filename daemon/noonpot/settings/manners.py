"""The section [manners]: how people are told, and when they are left alone."""

from datetime import time
from typing import Annotated

from pydantic import AfterValidator, Field

from noonpot.core.policy import Manners
from noonpot.settings.schema import Section
from noonpot.settings.words import Wants

USUAL = Manners()


def _clock(text: str) -> str:
    time.fromisoformat(text)
    return text


Clock = Annotated[str, Field(pattern=r"^\d\d:\d\d$"), AfterValidator(_clock)]
CLOCK = Wants('a time of day such as "22:00"', "the same one twice means no quiet hours")


class MannersSection(Section):
    """[manners]: repeats, putting off, quiet hours."""

    repeats: Annotated[
        int,
        Field(ge=0, le=10),
        Wants("0 to 10 times that an unanswered alert is repeated", "3 is usual"),
    ] = USUAL.repeats
    shelve_min: Annotated[
        float,
        Field(ge=1, le=120),
        Wants("1 to 120 minutes for which an alarm can be put off", "120 is usual"),
    ] = USUAL.shelve_s / 60
    quiet_from: Annotated[Clock, CLOCK] = f"{USUAL.quiet_from:%H:%M}"
    quiet_until: Annotated[Clock, CLOCK] = f"{USUAL.quiet_until:%H:%M}"


def manners(section: MannersSection) -> Manners:
    """The section in seconds and times of day."""
    return Manners(
        repeats=section.repeats,
        shelve_s=60 * section.shelve_min,
        quiet_from=time.fromisoformat(section.quiet_from),
        quiet_until=time.fromisoformat(section.quiet_until),
    )
