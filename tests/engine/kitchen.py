"""A household with one cooker for the tests of the engine, and a watch that stands in it."""

from datetime import datetime

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Reading, Role
from noonpot.core.rules import DEFAULT_POLICIES
from noonpot.core.station import CookerSpec, ProbeSpec, Station
from noonpot.core.wording import Wording
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.watch import Watch
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from simday import HILL, SimpleSun, at

PROBES = (
    ProbeSpec("box-pot", Role.POT, "bus", "1", "box"),
    ProbeSpec("box-core", Role.CORE, "bus", "2", "box"),
    ProbeSpec("box-core-2", Role.CORE, "bus", "3", "box"),
    ProbeSpec("shade", Role.AMBIENT, "bus", "4"),
)
STATION = Station("garden", HILL, (CookerSpec("box"),), PROBES)
HOUSE = Household(
    STATION, read_foods(supplied("foods.toml")), DEFAULT_POLICIES, RuleLimits(), Wording()
)


def daylight(when: datetime) -> Daylight:
    """The sun of that day, at hand."""
    sky = Daylight(HILL, SimpleSun())
    assert sky.fetch(when)
    return sky


def morning() -> FakeClock:
    return FakeClock(at("09:00"))


def watch_at(clock: FakeClock, sky: Daylight | None = None) -> Watch:
    return Watch(STATION.cookers[0], HOUSE, sky or daylight(clock.moment().at), clock.moment())


def event(kind: EventKind, now: Moment, **detail: str) -> Event:
    return Event("box", now.at, kind, detail)


def reading(probe: str, now: Moment, value: float) -> Reading:
    return Reading(probe, now.at, now.mono_s, value)
