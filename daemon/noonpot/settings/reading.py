"""From the file to values: every mistake told at once, or settings that can be relied on."""

from pathlib import Path
from zoneinfo import ZoneInfo

from noonpot.core.readings import Role
from noonpot.core.station import CookerSpec, Place, ProbeSpec, Station
from noonpot.errors import ConfigError
from noonpot.settings.alarms import limits, policies
from noonpot.settings.backup import backup_wishes
from noonpot.settings.checks import misfits
from noonpot.settings.draft import Draft, drafted
from noonpot.settings.files import parse, supplied
from noonpot.settings.foodlist import read_foods
from noonpot.settings.garden import StationSection
from noonpot.settings.history import readings_wishes
from noonpot.settings.kitchen import other_heat
from noonpot.settings.links import influx_access, mqtt_access, push_access, signs_of_life
from noonpot.settings.manners import manners
from noonpot.settings.page import page_access
from noonpot.settings.panel import local_signals
from noonpot.settings.values import BusSection, Poll, Settings


def load(path: Path, *, secrets: bool = True) -> Settings:
    """The settings in a file. Paths in it are taken from the folder of the file.

    Raises ConfigError with all mistakes that were found.
    """
    mistakes: list[str] = []
    draft = drafted(parse(path), mistakes)
    mistakes.extend(misfits(draft))
    folder = path.absolute().parent
    mqtt = mqtt_access(draft.mqtt, folder, mistakes) if draft.mqtt and secrets else None
    influx = influx_access(draft.influx, folder, mistakes) if draft.influx and secrets else None
    push = push_access(draft.push, folder, mistakes) if draft.push and secrets else None
    signals = local_signals(draft.signals, mistakes) if draft.signals else None
    deadman = draft.deadman and signs_of_life(draft.deadman, folder, mistakes, secrets=secrets)
    if mistakes or not (
        draft.station
        and draft.poll
        and draft.manners
        and draft.rescue
        and deadman
        and draft.backup
        and draft.readings
        and draft.page
    ):
        raise ConfigError(str(path), mistakes)
    return Settings(
        station=_station(draft.station, draft),
        units=draft.station.units,
        timezone=ZoneInfo(draft.station.timezone),
        data=folder / draft.station.data,
        poll=Poll(**draft.poll.model_dump()),
        buses=tuple(BusSection(b.name, b.driver, b.model_extra or {}) for b in draft.buses),
        max_rates={p.name: p.max_rate_c_per_s for p in draft.probes if p.role != "irradiance"},
        policies=policies(draft.alarms),
        limits=limits(draft.alarms, draft.poll.interval_s),
        foods={**read_foods(supplied("foods.toml")), **draft.foods},
        manners=manners(draft.manners),
        rescue=other_heat(draft.rescue),
        mqtt=mqtt,
        influx=influx,
        push=push,
        signals=signals,
        deadman=deadman,
        page=page_access(draft.page),
        backup=backup_wishes(draft.backup, folder),
        readings=readings_wishes(draft.readings),
    )


def _station(section: StationSection, draft: Draft) -> Station:
    horizon = tuple((corner[0], corner[1]) for corner in section.horizon)
    return Station(
        name=section.name,
        place=Place(section.latitude, section.longitude, section.elevation_m, horizon),
        cookers=tuple(CookerSpec(**cooker.model_dump()) for cooker in draft.cookers),
        probes=tuple(
            ProbeSpec(probe.name, Role(probe.role), probe.bus, probe.address, probe.cooker)
            for probe in draft.probes
        ),
    )
