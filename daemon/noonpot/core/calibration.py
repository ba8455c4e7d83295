"""What a probe showed in baths of known temperature, and the line that makes it true.

true = gain * shown + offset. Two baths give both; one gives the offset alone, which holds near that
bath. Beyond the baths the line goes on, and its doubt grows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import hypot

from noonpot.core.bath import Bath, Rest
from noonpot.core.readings import Role
from noonpot.core.station import ProbeSpec
from noonpot.errors import CookError

LARGEST_K = 5.0
"""Worse is no sound probe: uncalibrated, a type K wire and its converter may be off by 3.2 K
(IEC 60584-1 class 2, ±2.5; MAX31855 data sheet, ±2), a DS18B20 by 1 K (its data sheet) [K]."""
APART_K = 30.0
"""Baths that lie closer together tell nothing of the gain (our choice) [K]."""
COLDEST_C, HOTTEST_C = -1.0, 105.0
GOOD_FOR = timedelta(days=365)
"""Then it should be done anew (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Point:
    """What a probe showed in a bath: both in °C, the spread of its readings, and the doubt of all,
    that of the bath included (standard deviations) [K].
    """

    true_c: float
    shown_c: float
    spread_k: float
    doubt_k: float

    @property
    def off_k(self) -> float:
        """How much too high the probe shows [K]."""
        return self.shown_c - self.true_c


@dataclass(frozen=True, slots=True)
class Calibration:
    """One calibration of a probe. ``place`` is where the probe answered, see ``place_of``; without
    points it takes an earlier one back.
    """

    probe: str
    place: str
    at: datetime
    gain: float = 1.0
    offset_k: float = 0.0
    spread_k: float = 0.0
    points: tuple[Point, ...] = field(default=())

    def true_c(self, shown_c: float) -> float:
        """What is, when the probe shows this [°C]."""
        return self.gain * shown_c + self.offset_k

    def doubt_k(self, temp_c: float) -> float | None:
        """How far a corrected temperature may be off (one standard deviation) [K], None without a
        point. That of one point is right near its bath only.
        """
        if len(self.points) < 2:
            return self.points[0].doubt_k if self.points else None
        low, high = self.points
        share = (temp_c - low.true_c) / (high.true_c - low.true_c)
        return hypot((1 - share) * low.doubt_k, share * high.doubt_k)


def place_of(probe: ProbeSpec) -> str:
    """Where a probe answers. A calibration belongs to what hangs there, not to the name."""
    return f"{probe.bus} {probe.address}"


def point(bath: Bath, found: Rest) -> Point:
    """What a probe at rest tells in a bath. Raises CookError when it is off by more than 5 K."""
    made = Point(bath.true_c, found.mean_c, found.spread_k, hypot(bath.doubt_k, found.doubt_k))
    if abs(made.off_k) > LARGEST_K:
        raise CookError(
            f"the probe shows {made.shown_c:.2f} °C where {made.true_c:.2f} °C should be, off by "
            f"more than {LARGEST_K:g} K: wrong bath, bubbles at the tip, a tip not deep enough, or "
            "a broken probe; put that right and calibrate again"
        )
    return made


def calibrated(probe: str, place: str, at: datetime, points: Sequence[Point]) -> Calibration:
    """The calibration that one or two points make.

    Raises CookError when they cannot be gone by: off by more than 5 K, or too close together.
    """
    ordered = tuple(sorted(points, key=lambda point: point.true_c))
    for one in ordered:
        if not COLDEST_C <= one.true_c <= HOTTEST_C or not abs(one.off_k) <= LARGEST_K:
            raise CookError(
                f"{probe}: {one.shown_c:.2f} °C in a bath of {one.true_c:.2f} °C is no calibration;"
                f" it takes a bath of {COLDEST_C:g} to {HOTTEST_C:g} °C and at most {LARGEST_K:g} K"
            )
    spread_k = max((point.spread_k for point in ordered), default=0.0)
    match ordered:
        case ():
            return Calibration(probe, place, at)
        case (one,):
            return Calibration(probe, place, at, 1.0, -one.off_k, spread_k, ordered)
        case (low, high) if high.true_c - low.true_c >= APART_K:
            gain = (high.true_c - low.true_c) / (high.shown_c - low.shown_c)
            offset_k = low.true_c - gain * low.shown_c
            return Calibration(probe, place, at, gain, offset_k, spread_k, ordered)
    raise CookError(f"{probe}: give one bath, or two that are at least {APART_K:g} K apart")


def thermometer(probe: ProbeSpec) -> None:
    """Raises CookError for a probe that measures no temperature."""
    if probe.role is Role.IRRADIANCE:
        raise CookError(
            f"{probe.name} measures sunlight; only thermometers are calibrated in a bath"
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """How a probe stands: since when it is calibrated, None when it is not; whether it is time to
    do it; and a hint in words.
    """

    at: datetime | None
    due: bool
    words: str


def standing(last: Calibration | None, probe: ProbeSpec, now: datetime) -> Standing:
    """How a thermometer stands that was calibrated so last."""
    do = f"'noonpot probes calibrate {probe.name}'"
    if last is not None and last.place != place_of(probe):
        return Standing(
            None, due=True, words=f"calibrated at another place, which counts no more; {do}"
        )
    if last is None or not last.points:
        return Standing(None, due=True, words=f"not calibrated; {do} makes it truer")
    done = f"calibrated on {last.at:%Y-%m-%d}"
    if now - last.at > GOOD_FOR:
        words = f"{done}, more than a year ago; do it anew: {do}"
        return Standing(last.at, due=True, words=words)
    return Standing(last.at, due=False, words=done)
