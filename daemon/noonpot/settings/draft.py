"""The file section by section, each checked for itself."""

from dataclasses import dataclass
from typing import TypeVar

from pydantic import BaseModel

from noonpot.core.foods import Food
from noonpot.core.names import meant
from noonpot.settings.alarms import AlarmSection, alarm_sections
from noonpot.settings.backup import BackupSection
from noonpot.settings.foodlist import food_sections
from noonpot.settings.garden import (
    BusTable,
    CookerTable,
    PollSection,
    ProbeTable,
    StationSection,
)
from noonpot.settings.history import ReadingsSection
from noonpot.settings.kitchen import RescueSection
from noonpot.settings.links import DeadmanSection, InfluxSection, MqttSection, PushSection
from noonpot.settings.manners import MannersSection
from noonpot.settings.page import PageSection
from noonpot.settings.panel import SignalsSection
from noonpot.settings.words import said, several, single, validated

Section = TypeVar("Section", bound=BaseModel)
SECTIONS = {
    "station": "[station]",
    "poll": "[poll]",
    "bus": "[[bus]]",
    "cooker": "[[cooker]]",
    "probe": "[[probe]]",
    "alarm": "[alarm.NAME]",
    "manners": "[manners]",
    "food": "[food.NAME]",
    "rescue": "[rescue]",
    "mqtt": "[mqtt]",
    "push": "[push]",
    "deadman": "[deadman]",
    "influx": "[influx]",
    "signals": "[signals]",
    "backup": "[backup]",
    "readings": "[readings]",
    "page": "[page]",
}


@dataclass(frozen=True, slots=True)
class Draft:
    """All sections that are right in themselves, and the file they come from."""

    file: dict[str, object]
    station: StationSection | None
    poll: PollSection | None
    buses: tuple[BusTable, ...]
    cookers: tuple[CookerTable, ...]
    probes: tuple[ProbeTable, ...]
    alarms: dict[str, AlarmSection]
    foods: dict[str, Food]
    manners: MannersSection | None
    rescue: RescueSection | None
    mqtt: MqttSection | None
    push: PushSection | None
    deadman: DeadmanSection | None
    influx: InfluxSection | None
    signals: SignalsSection | None
    backup: BackupSection | None
    readings: ReadingsSection | None
    page: PageSection | None


def drafted(file: dict[str, object], mistakes: list[str]) -> Draft:
    """The draft of a file, without the sections that have mistakes; these are added to the list."""
    mistakes.extend(
        f"{said(key)} is not a section here; {meant(said(key), SECTIONS)}"
        for key in file
        if key not in SECTIONS
    )
    return Draft(
        file=file,
        station=_one(StationSection, file, "station", mistakes),
        poll=_one(PollSection, file, "poll", mistakes) if "poll" in file else PollSection(),
        buses=_each(BusTable, file, "bus", mistakes),
        cookers=_each(CookerTable, file, "cooker", mistakes),
        probes=_each(ProbeTable, file, "probe", mistakes),
        alarms=alarm_sections(file, mistakes),
        foods=food_sections(file, mistakes),
        manners=_one(MannersSection, file, "manners", mistakes)
        if "manners" in file
        else MannersSection(),
        rescue=_one(RescueSection, file, "rescue", mistakes)
        if "rescue" in file
        else RescueSection(),
        mqtt=_one(MqttSection, file, "mqtt", mistakes),
        push=_one(PushSection, file, "push", mistakes),
        deadman=_one(DeadmanSection, file, "deadman", mistakes)
        if "deadman" in file
        else DeadmanSection(),
        influx=_one(InfluxSection, file, "influx", mistakes),
        signals=_one(SignalsSection, file, "signals", mistakes),
        backup=_one(BackupSection, file, "backup", mistakes)
        if "backup" in file
        else BackupSection(),
        readings=_one(ReadingsSection, file, "readings", mistakes)
        if "readings" in file
        else ReadingsSection(),
        page=_one(PageSection, file, "page", mistakes) if "page" in file else PageSection(),
    )


def _one(
    model: type[Section], file: dict[str, object], kind: str, mistakes: list[str]
) -> Section | None:
    table = single(file, kind, mistakes)
    return None if table is None else validated(model, f"{kind}.", table, mistakes)


def _each(
    model: type[Section], file: dict[str, object], kind: str, mistakes: list[str]
) -> tuple[Section, ...]:
    sections = [
        validated(model, where, table, mistakes) for where, table in several(file, kind, mistakes)
    ]
    return tuple(section for section in sections if section is not None)
