"""The report of a cook out of the data file: as a page, as a table, as a picture."""

import importlib
import importlib.util
from dataclasses import replace
from datetime import datetime, timedelta

from noonpot.app.reliving import LoadLived, Reliving
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.cookreport import CookReport, LoadTale
from noonpot.core.cookwords import made_on, page, title
from noonpot.core.policy import HOT_PROBE_S
from noonpot.core.reportpicture import titled
from noonpot.core.station import CookerSpec
from noonpot.core.water import boiling_point_c
from noonpot.core.wording import Wording
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.memory import Memory
from noonpot.errors import CookError, PictureError
from noonpot.ports import SunTable
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader

LONGEST = timedelta(hours=24)
"""A cook that nobody ended may be days long; a report looks at so much of it."""
POINTS = 900
ZOOM = 2
TOLD = (
    EventKind.START,
    EventKind.AIM,
    EventKind.LOAD,
    EventKind.UNLOAD,
    EventKind.LID,
    EventKind.NOTE,
    EventKind.SPOT,
    EventKind.STOP,
)


def report_of(
    number: int, settings: Settings, reader: Reader, sun: SunTable, now: datetime
) -> CookReport:
    """All that a report tells of one cook. It may take seconds: every reading is gone through.

    Raises CookError when there is no such cook, StoreError when the data file cannot be read.
    """
    cook = next((cook for cook in reader.cooks() if cook.id == number), None)
    if cook is None:
        raise CookError(f"there is no cook {number}; 'noonpot cook list' shows them all")
    whole_end = cook.stopped_at or now
    until = min(whole_end, cook.started_at + LONGEST)
    house = _household(settings, cook)
    daylight = Daylight(house.station.place, sun)
    daylight.fetch(cook.started_at)
    past = _past(cook, house, reader, until)
    lived = Reliving(cook, house, daylight, past).live(until)
    verdicts = [e for e in reader.verdicts_of(cook.cooker) if e.detail.get("cook") == str(cook.id)]
    return CookReport(
        cook=cook,
        cooker=next(spec for spec in house.station.cookers if spec.name == cook.cooker),
        place=house.station.place,
        station=house.station.name,
        until=until,
        made_at=now,
        wording=house.wording,
        boiling_c=boiling_point_c(house.station.place.elevation_m),
        curve=reader.curve(cook.cooker, cook.started_at, until, POINTS),
        events=[event for event in past.events if event.kind in TOLD],
        looks=lived.looks,
        loads=[_tale(cook.cooker, load, house, reader, until) for load in lived.loads],
        forecasts=reader.forecasts_of(cook.id),
        verdict=verdicts[-1] if verdicts else None,
        cut=until < whole_end,
    )


def html(report: CookReport) -> str:
    """The report as a page that needs nothing else."""
    return page(report)


def png(report: CookReport) -> bytes:
    """Its curves as a PNG. Raises PictureError where nothing was measured, or the library that
    draws is not installed.
    """
    if importlib.util.find_spec("resvg_py") is None:
        raise PictureError(
            "the library resvg-py, which draws a PNG, is not installed; put it beside Noonpot with "
            "pip install 'noonpot[pictures]', or print the page instead"
        )
    try:
        drawn = titled(report, f"{title(report)}, {made_on(report)}")
    except ValueError as error:
        raise PictureError(f"cook {report.cook.id}: {error}") from None
    resvg = importlib.import_module("resvg_py")
    return bytes(resvg.svg_to_bytes(svg_string=drawn, zoom=ZOOM))


def _household(settings: Settings, cook: Cook) -> Household:
    """The household; a cooker that is no longer in the configuration stands there as it usually
    is, without a probe.
    """
    station = settings.station
    if cook.cooker not in [spec.name for spec in station.cookers]:
        station = replace(station, cookers=(*station.cookers, CookerSpec(cook.cooker)))
    return Household(
        station=station,
        foods=settings.foods,
        policies=settings.policies,
        limits=settings.limits,
        wording=Wording(settings.units, settings.timezone),
        heat=settings.rescue,
    )


def _past(cook: Cook, house: Household, reader: Reader, until: datetime) -> Memory:
    """All that was read and done in the cook, and where the cooker pointed when it began."""
    begun = cook.started_at
    probes = [probe.name for probe in house.station.probes_of(cook.cooker)]
    samples = [s for probe in probes for s in reader.samples_of(probe, begun, until)]
    events = list(reader.events_of(cook.cooker, begun, until)) or cook.retold()
    aim = reader.aim_before(cook.cooker, begun)
    if aim is not None and not any(e.kind is EventKind.AIM and e.at == begun for e in events):
        first = 1 if events and events[0].kind is EventKind.START else 0
        events.insert(first, Event(cook.cooker, begun, EventKind.AIM, aim.detail))
    return Memory(events=events, samples=sorted(samples, key=lambda sample: sample.at))


def _tale(
    cooker: str, lived: LoadLived, house: Household, reader: Reader, end: datetime
) -> LoadTale:
    """What became of a load; the core counts once its probe does not show the hot pot any more."""
    load, until = lived.load, min(lived.until or end, end)
    since, reached = load.at + timedelta(seconds=HOT_PROBE_S), None
    if lived.target_c is not None:
        since = reader.core_below(cooker, lived.target_c, load.at, until) or since
        reached = reader.core_reached(cooker, lived.target_c, since, until)
    return LoadTale(
        load=load,
        food=house.foods.get(load.food),
        until=lived.until,
        target_c=lived.target_c,
        reached=reached,
        done=reader.first_told(cooker, "done", load.at, until),
        peak_core_c=reader.peak_core_c(cooker, since, until),
        safety=lived.safety,
    )
