"""Advice on aiming from the configuration, and from where the store says a cooker points."""

from collections.abc import Iterator
from datetime import datetime

from noonpot.app.machine import DATA_FILE, system_clock
from noonpot.app.replaying import Forgetful
from noonpot.core.cook import Aim
from noonpot.core.names import meant
from noonpot.core.pointing import PointingAdvice, advise
from noonpot.core.sun import solar_date
from noonpot.declination import declination
from noonpot.errors import CookError
from noonpot.settings.values import Settings
from noonpot.store.reader import Reader
from noonpot.suntable import SunTables


def advice(
    settings: Settings, cooker: str | None, when: datetime
) -> Iterator[tuple[str, PointingAdvice | None, str]]:
    """For each cooker asked for: its name, the advice (None without sun), a word on the compass.

    Raises CookError when there is no such cooker, SunTableError when the sun cannot be computed.
    """
    place, cookers = settings.station.place, settings.station.cookers
    names = [spec.name for spec in cookers]
    if cooker is not None and cooker not in names:
        raise CookError(f"there is no cooker {cooker!r}; {meant(cooker, names)}")
    compass = declination(place, when)
    table = SunTables(Forgetful()).day(place, solar_date(when, place.longitude))
    for spec in cookers:
        if cooker in (None, spec.name):
            found = advise(
                place,
                table,
                when,
                spec.acceptance_deg,
                settings.limits.min_gain,
                _present_aim(settings, spec.name),
                compass.degrees,
            )
            yield spec.name, found, compass.note


def _present_aim(settings: Settings, cooker: str) -> Aim | None:
    """Where a cooker points in its running cook, None when nobody said so."""
    file = settings.data / DATA_FILE
    if not file.exists():
        return None
    cooks = [c for c in Reader(file, system_clock()).cooks() if c.running and c.cooker == cooker]
    return cooks[-1].aim if cooks else None
