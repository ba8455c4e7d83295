"""The section [backup]: copies of the data file, made at night."""

from datetime import time
from pathlib import Path
from typing import Annotated

from pydantic import Field

from noonpot.settings.manners import Clock
from noonpot.settings.schema import Section, Text
from noonpot.settings.values import BackupWishes
from noonpot.settings.words import Wants

USUAL = BackupWishes()


class BackupSection(Section):
    """[backup]: where to, when, and how many are kept."""

    enabled: Annotated[bool, Wants("true or false", "false means no backup at all")] = True
    folder: Annotated[
        Text | None,
        Wants("the name of a folder that is there, in quotes", "leave it out for the usual one"),
    ] = None
    at: Annotated[
        Clock, Wants('a time of day such as "03:00"', "choose one at which nothing is cooked")
    ] = f"{USUAL.at:%H:%M}"
    days: Annotated[
        int,
        Field(ge=1, le=100),
        Wants("1 to 100 days of which one backup each is kept", "7 is usual"),
    ] = USUAL.days
    weeks: Annotated[
        int,
        Field(ge=0, le=100),
        Wants("0 to 100 weeks of which one backup each is kept", "4 is usual"),
    ] = USUAL.weeks


def backup_wishes(section: BackupSection, base: Path) -> BackupWishes:
    """The section as values; the folder is taken from the folder of the file."""
    return BackupWishes(
        enabled=section.enabled,
        folder=None if section.folder is None else base / section.folder,
        at=time.fromisoformat(section.at),
        days=section.days,
        weeks=section.weeks,
    )
