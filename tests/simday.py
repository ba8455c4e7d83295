"""A day at a simulated cooker, lived through at once: a script of events in, a recording out.

recording = record_day(
    {"cookers": [{"name": "box"}], "sky": "broken", "seed": 7},
    [event("box", "load", at("09:30"), food="bread", mass_kg=0.6), *turns("box", ...)],
    start=at("08:00"), end=at("16:00"),
)
text = format_recording(recording)
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

import numpy as np

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.core.header import Header
from noonpot.core.readings import Measured, Role
from noonpot.core.recording import EVENTS, Recording, Row
from noonpot.core.station import Place
from noonpot.core.sun import DayTable, solar_date, solar_midnight
from noonpot.ports import Bus, SunTable, Surroundings
from noonpot_hw.simulated import open_bus
from skies import sun_at

HILL = Place(40.0, 0.0, 1600.0)
"""40° N, 1600 m; on the meridian of Greenwich, so that noon is close to 12:00 UTC."""
JUNE = date(2026, 6, 3)


def at(clock: str, day: date = JUNE) -> datetime:
    """That time of the day in UTC, for instance ``"09:30"``."""
    return datetime.fromisoformat(f"{day}T{clock}:00+00:00")


def event(cooker: str, kind: str, when: datetime, **detail: object) -> Event:
    """Something that happens at a cooker."""
    return Event(cooker, when, EventKind(kind), {key: str(value) for key, value in detail.items()})


class SimpleSun:
    """A sun table good to about half a degree, in an instant, without a solar library.

    Declination by Cooper's formula, direct light by Meinel's (from memory), both bent to lie within
    some percent of a hazy clear day on the hill. They make days; nothing is checked against them.
    """

    def day(self, place: Place, day: date) -> DayTable:
        """The solar day in steps of two minutes."""
        start_s = solar_midnight(day, place.longitude).timestamp()
        days = 284 + day.timetuple().tm_yday
        declination_deg = 23.45 * math.sin(2 * math.pi * days / 365)
        east, north, up = sun_at(start_s + np.arange(0.0, 86401.0, 120.0), place, declination_deg)
        height = np.maximum(up, 0.0)
        air_mass = 1 / np.maximum(height, 0.03)
        dni = 1250 * 0.7 ** (air_mass**0.678) * np.minimum(1, height / 0.05)
        dhi = 200 * height**0.75
        return DayTable(
            start_s,
            120.0,
            np.degrees(np.arctan2(east, north)) % 360,
            np.degrees(np.arcsin(up)),
            dni * height + dhi,
            dni,
            dhi,
        )


def turns(
    cooker: str,
    start: datetime,
    end: datetime,
    every_s: float = 1200.0,
    place: Place = HILL,
    sun: SunTable | None = None,
) -> list[Event]:
    """Somebody turns the cooker to the sun every so often [s], from start to end."""
    sun, events, when = sun or SimpleSun(), [], start
    while when < end:
        sky = sun.day(place, solar_date(when, place.longitude)).at(when)
        aim = {"azimuth": f"{sky.azimuth_deg:.1f}", "elevation": f"{max(0, sky.elevation_deg):.1f}"}
        events.append(Event(cooker, when, EventKind.AIM, aim))
        when += timedelta(seconds=every_s)
    return events


def open_garden(
    options: Mapping[str, object],
    clock: FakeClock,
    place: Place = HILL,
    sun: SunTable | None = None,
) -> Bus:
    """The simulated bus on a clock that is moved by hand."""
    return open_bus(options, Surroundings(clock, place, sun or SimpleSun()))


def record_day(  # noqa: PLR0913 - most of a day can be left out
    options: Mapping[str, object],
    script: Sequence[Event],
    start: datetime,
    end: datetime,
    *,
    step_s: float = 60.0,
    place: Place = HILL,
    cooker: str | None = None,
    sun: SunTable | None = None,
) -> Recording:
    """Live through a day in a simulated garden and record one cooker of it.

    ``options`` are those of the simulated bus, ``script`` what happens, to any cooker; ``step_s``
    is the distance of the rows [s]; ``cooker`` the one to record, by default the first; ``sun``
    where sun and clear sky come from, by default ``SimpleSun``.
    """
    cookers = options["cookers"]
    assert isinstance(cookers, list)
    spec = next(c for c in cookers if cooker in (None, c["name"]))
    name = spec["name"]
    addresses = {
        Role.POT: f"{name}/pot",
        Role.CORE: f"{name}/core",
        Role.AMBIENT: "ambient",
        Role.IRRADIANCE: "irradiance",
    }
    clock = FakeClock(start)
    bus = open_garden(options, clock, place, sun)
    waiting = sorted(script, key=lambda e: e.at)
    rows: list[Row] = []
    steps = int((end - start).total_seconds() // step_s)
    for when in (start + timedelta(seconds=step_s * i) for i in range(steps + 1)):
        while waiting and waiting[0].at <= when:
            happened = waiting.pop(0)
            clock.advance((happened.at - clock.moment().at).total_seconds())
            bus.notice(happened)
            if happened.cooker == name and happened.kind in EVENTS:
                rows.append(Row(happened.at, {}, happened.kind, happened.detail))
        clock.advance((when - clock.moment().at).total_seconds())
        answers = {role: bus.read(address) for role, address in addresses.items()}
        values = {r: round(a.value, 4) for r, a in answers.items() if isinstance(a, Measured)}
        rows.append(Row(when, values))
    header = Header(place, name, spec.get("aperture_m2", 0.25), spec.get("acceptance_deg", 30.0))
    return Recording(header, rows)


def column(recording: Recording, role: Role) -> list[tuple[datetime, float]]:
    """All readings of one role: (time, value)."""
    return [(row.at, row.values[role]) for row in recording.rows if role in row.values]


def first_at(recording: Recording, role: Role, least: float) -> datetime | None:
    """When a role first showed at least so much, None if it never did."""
    return next((when for when, value in column(recording, role) if value >= least), None)
