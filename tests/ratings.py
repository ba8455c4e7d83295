"""What tests of ratings share: intervals written by hand, and cooks in the simulated garden."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from noonpot.core.evidence import Evidence, Light, LightFrom
from noonpot.core.readings import Role
from noonpot.core.recording import Recording
from noonpot.core.station import CookerSpec
from noonpot.core.sun import solar_date
from noonpot.core.tenminutes import Interval
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from simday import HILL, JUNE, SimpleSun, at, event, record_day, turns

FOODS = read_foods(supplied("foods.toml"))
SPEC = CookerSpec("box", 0.25, 30.0)
SUN = SimpleSun()


def interval(
    start_c: float,
    end_c: float,
    wm2: float,
    ambient_c: float,
    number: int = 0,
    mass_kg: float = 2.0,
    day: date = JUNE,
) -> Interval:
    """Ten minutes in which all is well but what nobody can know."""
    return Interval(
        at_s=600.0 * number,
        day=day,
        water=True,
        mass_kg=mass_kg,
        heat_j_k=4186.0 * mass_kg,
        start_c=start_c,
        end_c=end_c,
        ambient_c=ambient_c,
        boiling_c=100.0,
        light=Light(wm2, wm2, 20.0, LightFrom.SENSOR),
        solar_h=11.0,
        kg_per_m2=7.0,
        turned_s=600.0,
        caught=0.98,
        own_heat=False,
        before_wm2=wm2,
    )


@cache
def water_day(
    number: int = 0,
    *,
    food: str = "water",
    mass_kg: float = 1.75,
    sky: str = "clear",
    empty_h: int = 0,
    lid: bool = False,
    said: str = "",
) -> Recording:
    """A day on which the box of the garden warms cold water in the sun, from 10:00 on; before that
    it may stand empty in the sun for some hours.
    """
    day = JUNE + timedelta(days=7 * number)
    begin, load, end = at(f"{10 - empty_h:02}:00", day), at("10:00", day), at("15:00", day)
    script = [
        event("box", "start", begin),
        event("box", "load", load, food=food, mass_kg=mass_kg, start_c=25),
        *turns("box", begin, end),
    ]
    if lid:
        script.append(event("box", "lid", at("11:45", day)))
    if said:
        script.append(event("box", "note", begin, text=said))
    options = {
        "cookers": [{"name": "box", "kind": "box", "aperture_m2": 0.25}],
        "seed": number,
        "sky": sky,
    }
    return record_day(options, script, begin, end)


def evidence(recording: Recording, spec: CookerSpec = SPEC) -> Evidence:
    """A recording on the hill as evidence."""
    day = solar_date(recording.rows[0].at, HILL.longitude)
    return Evidence.of(recording, spec, [SUN.day(HILL, day)], FOODS)


def blind(recording: Recording, *roles: Role) -> Recording:
    """The same without some probes."""
    rows = [
        replace(row, values={r: v for r, v in row.values.items() if r not in roles})
        for row in recording.rows
    ]
    return replace(recording, rows=rows)


def all_of(recordings: Sequence[Recording]) -> list[Evidence]:
    """Each of them as evidence."""
    return [evidence(recording) for recording in recordings]
