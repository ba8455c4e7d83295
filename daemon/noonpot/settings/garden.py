"""The sections about what stands in the garden: place, buses, cookers and probes."""

import re
from itertools import pairwise
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, ConfigDict, Field

from noonpot.core.filtering import DEFAULT_MAX_RATE_C_S
from noonpot.core.station import CookerSpec
from noonpot.settings.schema import Name, Section, Text
from noonpot.settings.values import Poll
from noonpot.settings.words import Wants

ZONE = re.compile(r"[A-Za-z0-9_+-]{1,40}(/[A-Za-z0-9_+-]{1,40}){0,2}", re.ASCII)
USUAL_POLL = Poll()
USUAL_COOKER = CookerSpec("any")
Corner = Annotated[list[float], Field(min_length=2, max_length=2)]


def _horizon(corners: list[list[float]]) -> list[list[float]]:
    rising = all(first[0] < second[0] for first, second in pairwise(corners))
    if not rising or any(not (0 <= corner[0] < 360 and 0 <= corner[1] <= 90) for corner in corners):
        raise ValueError
    return corners


def _timezone(text: str) -> str:
    if ZONE.fullmatch(text) is None:  # ZoneInfo looks for files, and fails at odd names in odd ways
        raise ValueError
    try:
        ZoneInfo(text)
    except (KeyError, OSError) as error:  # unknown; or a folder of zones, such as "America"
        raise ValueError from error
    return text


class StationSection(Section):
    """[station]: the place and its people."""

    name: Name
    latitude: Annotated[
        float,
        Field(ge=-90, le=90),
        Wants("-90 to 90 degrees, north positive", "look it up on a map"),
    ]
    longitude: Annotated[
        float,
        Field(ge=-180, le=180),
        Wants("-180 to 180 degrees, east positive", "look it up on a map"),
    ]
    elevation_m: Annotated[
        float,
        Field(ge=-430, le=8850),
        Wants("-430 to 8850 metres above the sea", "look it up on a map, 1 ft is 0.3048 m"),
    ]
    units: Annotated[
        Literal["C", "F"], Wants('"C" or "F", the degrees in messages', "choose one")
    ] = "C"
    horizon: Annotated[
        list[Corner],
        AfterValidator(_horizon),
        Wants(
            "[azimuth, elevation] pairs in degrees, azimuth rising from 0 to below 360, "
            "elevation 0 to 90",
            "list what hides the sun from north by east, or leave it out",
        ),
    ] = Field(default_factory=list)
    timezone: Annotated[
        str,
        AfterValidator(_timezone),
        Wants(
            'a time zone such as "America/Denver", for the times in messages',
            '"timedatectl list-timezones" lists them',
        ),
    ] = "UTC"
    data: Annotated[
        Text, Wants("the folder for everything that is measured", "leave it out for the usual one")
    ] = "/var/lib/noonpot"


class PollSection(Section):
    """[poll]: the rhythm of the watcher."""

    interval_s: Annotated[
        float,
        Field(ge=0.5, le=60),
        Wants("0.5 to 60 seconds between two readings of a probe", "2 is usual"),
    ] = USUAL_POLL.interval_s
    commit_s: Annotated[
        float,
        Field(ge=1, le=300),
        Wants("1 to 300 seconds between two writings to the card", "10 is usual"),
    ] = USUAL_POLL.commit_s
    hang_s: Annotated[
        float,
        Field(ge=1, le=300),
        Wants("1 to 300 seconds of silence, after which a bus hangs", "10 is usual"),
    ] = USUAL_POLL.hang_s


class BusTable(Section):
    """[[bus]]: all other keys are for the driver."""

    model_config = ConfigDict(extra="allow")

    name: Name
    driver: Annotated[
        Text,
        Wants(
            "the name of a driver, in quotes",
            '"ds18b20", "max31855", "ads1115", "topic" or "simulated"',
        ),
    ]


class CookerTable(Section):
    """[[cooker]]: one cooker as its owner describes it."""

    name: Name
    aperture_m2: Annotated[
        float,
        Field(ge=0.01, le=20),
        Wants("0.01 to 20 square metres that face the sun, mirrors included", "measure it"),
    ] = USUAL_COOKER.aperture_m2
    acceptance_deg: Annotated[
        float,
        Field(ge=2, le=90),
        Wants(
            "2 to 90 degrees off the sun at which half the light is lost",
            "30 is usual for four flat mirrors",
        ),
    ] = USUAL_COOKER.acceptance_deg


class ProbeTable(Section):
    """[[probe]]: what it measures and where it hangs."""

    name: Name
    role: Annotated[
        Literal["pot", "core", "ambient", "irradiance"],
        Wants('"pot", "core", "ambient" or "irradiance"', "say what the probe measures"),
    ]
    bus: Annotated[Text, Wants("the name of a [[bus]], in quotes", "say where the probe hangs")]
    address: Annotated[
        Text,
        Wants("the probe's address on its bus, in quotes", '"noonpot probes" lists them'),
    ]
    cooker: Annotated[
        Text | None,
        Wants("the name of a [[cooker]], in quotes", "say which cooker the probe is in"),
    ] = None
    max_rate_c_per_s: Annotated[
        float,
        Field(ge=0.05, le=100),
        Wants("0.05 to 100 °C a second, the fastest change to believe", "5 is usual"),
    ] = DEFAULT_MAX_RATE_C_S
