"""A calibration as the detail of an event, by which the station is told of it."""

from collections.abc import Iterable
from math import isfinite

from noonpot.core.calibration import Calibration, Point, calibrated, place_of, thermometer
from noonpot.core.cook import Event
from noonpot.core.names import meant
from noonpot.core.station import ProbeSpec
from noonpot.errors import CookError


def detail_of(made: Calibration) -> dict[str, str]:
    """The detail of the event that tells a calibration; ``told`` reads it."""
    return {
        "probe": made.probe,
        "place": made.place,
        "gain": f"{made.gain:.6f}",
        "offset_k": f"{made.offset_k:.4f}",
        "spread_k": f"{made.spread_k:.4f}",
        "points": points_text(made.points),
    }


def told(event: Event, probes: Iterable[ProbeSpec]) -> Calibration:
    """The calibration that an event tells, of one of these probes.

    Only what was measured counts; gain and offset follow from it. Raises CookError when the probe
    is not known, is no thermometer or answers elsewhere by now, and when the numbers cannot be.
    """
    known = {probe.name: probe for probe in probes}
    name = event.detail.get("probe", "")
    spec = known.get(name)
    if spec is None:
        raise CookError(f"there is no probe {name!r}; {meant(name, known)}")
    thermometer(spec)
    place = event.detail.get("place", "")
    if place != place_of(spec):
        raise CookError(
            f"{name} was calibrated at {place!r}, but answers at {place_of(spec)!r}; calibrate it "
            "where it is now"
        )
    try:
        points = points_of(event.detail.get("points", ""))
    except ValueError as error:
        raise CookError(f"{name}: {error}") from None
    return calibrated(name, place, event.at, points)


def points_text(points: Iterable[Point]) -> str:
    """Points as one line: true, shown, spread and doubt of each, in its °C and K."""
    return " ".join(
        "/".join(f"{x:.4f}" for x in (p.true_c, p.shown_c, p.spread_k, p.doubt_k)) for p in points
    )


def points_of(text: str) -> tuple[Point, ...]:
    """The points in a line. Raises ValueError for a line that ``points_text`` did not write.

    >>> points_of(points_text([Point(0.0, 0.25, 0.02, 0.1)]))
    (Point(true_c=0.0, shown_c=0.25, spread_k=0.02, doubt_k=0.1),)
    """
    points = []
    for word in text.split():
        try:
            true_c, shown_c, spread_k, doubt_k = (float(part) for part in word.split("/"))
        except ValueError:
            raise ValueError(f"the point {word[:80]!r} is not true/shown/spread/doubt") from None
        if not all(map(isfinite, (true_c, shown_c))) or not (spread_k >= 0 and doubt_k >= 0):
            raise ValueError(f"the point {word[:80]!r} holds a number that cannot be")
        points.append(Point(true_c, shown_c, spread_k, doubt_k))
    return tuple(points)
