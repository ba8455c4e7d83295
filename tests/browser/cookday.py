"""A day with two cookers, lived through at once by the real watch on a real data file.

The same script gives the same day, to the last digit: for pictures, and for pages that are looked
at while nothing moves.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from fakes import FakeClock, RecordingNotifier
from noonpot.app.daemon import household
from noonpot.app.machine import DATA_FILE
from noonpot.core.cook import Event
from noonpot.core.filtering import ProbeFilter
from noonpot.engine.daylight import Daylight
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.poller import sample
from noonpot.engine.stationwatch import StationWatch
from noonpot.engine.watch import Watch
from noonpot.ports import Health, SunTable, Surroundings
from noonpot.settings.values import Settings
from noonpot.store.sqlite import Store
from noonpot_hw.simulated import open_bus

STEP_S = 10.0


def lived(
    settings: Settings, script: Sequence[Event], start: datetime, end: datetime, sun: SunTable
) -> Mapping[str, Mapping[str, object]]:
    """Live from start to end, the data file of ``settings`` being written; returns all that is
    shown at the end, by topic. The station has one bus, of simulated cookers.
    """
    clock, phone, health = FakeClock(start), RecordingNotifier(), Health()
    clock.boot_id = f"boot of {start}"
    bus = open_bus(settings.buses[0].options, Surroundings(clock, settings.station.place, sun))
    waiting = sorted(script, key=lambda happening: happening.at)
    with Store(settings.data / DATA_FILE, clock) as store:
        store.register(settings.station.probes)
        store.begin()
        pipeline = _pipeline(settings, clock, store, phone, health, sun)
        pipeline.resume(clock.moment())
        while clock.moment().at < end:
            now = clock.advance(STEP_S)
            events = [event for event in waiting if event.at <= now.at]
            waiting = waiting[len(events) :]
            said = [sample(p.name, now, bus.read(p.address)) for p in settings.station.probes]
            refused = pipeline.round(now, said, events)
            if refused:
                raise AssertionError(f"the watch refused a part of the day: {refused}")
            for event in events:
                bus.notice(event)
        pipeline.show(clock.moment())
        pipeline.write(clock.moment())
    return phone.shown


def _pipeline(
    settings: Settings,
    clock: FakeClock,
    store: Store,
    phone: RecordingNotifier,
    health: Health,
    sun: SunTable,
) -> Pipeline:
    now, station = clock.moment(), settings.station
    house = household(settings, now.at, {})
    daylight = Daylight(station.place, sun)
    daylight.fetch(now.at)
    return Pipeline(
        station.name,
        [Watch(cooker, house, daylight, now) for cooker in station.cookers],
        {probe.name: ProbeFilter(1.0) for probe in station.probes},
        store,
        [phone],
        health,
        own=StationWatch(house, now),
        commit_s=timedelta(minutes=5).total_seconds(),
    )
