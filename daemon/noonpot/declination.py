"""From true to magnetic north: the World Magnetic Model."""

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from noonpot.core.station import Place


@dataclass(frozen=True, slots=True)
class Declination:
    """How far a compass points east of true north at a place and time [degrees].

    ``uncertainty_deg`` is the model's own standard error. ``note`` is empty, or one sentence for
    the person who holds the compass.
    """

    degrees: float
    uncertainty_deg: float
    note: str = ""


def declination(place: Place, when: datetime) -> Declination:
    """The declination; a date outside the model's five years is moved to the nearest it knows.

    Magnetic azimuth = true azimuth - declination.
    """
    model = _model()
    first, last = model.life_span
    year = _decimal_year(when)
    used = min(max(year, first), last)
    field = model.calculate(
        glat=place.latitude, glon=place.longitude, alt=place.elevation_m / 1000, time=used
    )
    notes = []
    if used != year:
        notes.append(
            f"the magnetic model covers {first:.0f} to {last:.0f}, so the compass bearing is that "
            f"of {used:.0f}; update Noonpot for a newer model"
        )
    if field.in_blackout_zone or field.in_caution_zone:
        notes.append("a compass is not to be trusted so near the magnetic pole; use the shadow")
    return Declination(field.d, field.calculate_uncertainty().d, "; ".join(notes))


@lru_cache(maxsize=1)
def _model() -> Any:
    """The newest model that pygeomag brings; read when first asked for."""
    from pygeomag import GeoMag

    return GeoMag()


def _decimal_year(when: datetime) -> float:
    """The time as a year with decimals; the middle of a common year is .5."""
    at = when.astimezone(UTC)
    start, end = datetime(at.year, 1, 1, tzinfo=UTC), datetime(at.year + 1, 1, 1, tzinfo=UTC)
    return at.year + (at - start) / (end - start)
