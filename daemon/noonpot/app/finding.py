"""What answers on this machine, before there is a configuration."""

from pathlib import Path

from noonpot.app.buses import opened
from noonpot.app.daytables import day_tables, station_tables
from noonpot.app.machine import system_clock
from noonpot.core.station import Place
from noonpot.engine.identify import Seen, survey
from noonpot.ports import Clock, Surroundings
from noonpot.settings.values import BusSection, Settings

ANYWHERE = Place(0.0, 0.0, 0.0)
TRIAL = {"sky": "clear", "seed": 1, "cookers": [{"name": "box", "kind": "box", "pot": "light"}]}


def surroundings(settings: Settings, clock: Clock) -> Surroundings:
    """What bus drivers may use, without writing to the store."""
    return Surroundings(clock, settings.station.place, station_tables(settings, clock))


def look_around(w1_base: Path, *, simulated: bool) -> tuple[list[BusSection], list[Seen]]:
    """The buses this machine has and all that answers on them."""
    sections: list[BusSection] = []
    if simulated:
        sections.append(BusSection("garden", "simulated", TRIAL))
    if w1_base.exists():
        sections.append(BusSection("w1", "ds18b20", {"base": str(w1_base)}))
    chips = sorted(str(path) for path in Path("/dev").glob("spidev*"))
    if chips:
        sections.append(BusSection("spi", "max31855", {"devices": chips}))
    around = Surroundings(system_clock(), ANYWHERE, day_tables())
    with opened("noonpot init", sections, around) as buses:
        return sections, list(survey(buses))
