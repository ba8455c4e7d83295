"""A bath whose temperature is known, and whether a probe in it has come to rest."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt
from statistics import linear_regression, mean, stdev

from noonpot.core.readings import Reading
from noonpot.core.water import (
    boiling_point_c,
    saturation_temperature_c,
    standard_pressure_pa,
)
from noonpot.errors import CookError

KITCHEN_K = 0.1
"""So far a kitchen's bath is from the true point: clean ice in its own melt water, stirred, or
water that boils hard (common practice, no source) [K]."""
WEATHER_PA = 1000.0
"""So far the weather usually moves the air pressure either way (our choice) [Pa]."""
LOWEST_SEA_PA, HIGHEST_SEA_PA = 94_000.0, 105_000.0
"""Beyond these, a pressure that is brought down to the sea is that of no common weather; it is most
likely one that a weather report has brought there already (our choice)."""

WINDOW_S, FEWEST = 60.0, 10
"""What is looked at: a minute, and so many readings."""
DRIFT_K = 0.1
"""A probe that moves less in a minute, and nears its bath with a lag of half a minute, is within
0.05 K of it [K]."""
SPREAD_K = 0.2
"""Bubbles and stirring shake a good bath less; the mean of more is worth little (our choice)."""
FINEST_K, COARSEST_K = 0.0625, 0.5
"""Steps of the probes in use: a DS18B20 at 12 and at 9 bits (its data sheet) [K]."""


@dataclass(frozen=True, slots=True)
class Bath:
    """A bath of ``true_c`` [°C], known to ``doubt_k`` (one standard deviation, about) [K]."""

    name: str
    true_c: float
    doubt_k: float
    how: str


def ice_bath() -> Bath:
    """Ice that melts."""
    how = (
        "Fill a jug with crushed ice, add just enough cold water to cover it, and stir. Hold the "
        "tip in the middle of the ice, away from wall and bottom, at least 5 cm deep."
    )
    return Bath("ice bath", 0.0, KITCHEN_K, how)


def boiling_bath(elevation_m: float, pressure_pa: float | None = None) -> Bath:
    """Water that boils, at this elevation or under a measured pressure. Without one, the weather
    counts as a doubt.

    Raises CookError for a pressure that cannot be that of this place.

    >>> bath = boiling_bath(0.0)
    >>> round(bath.true_c, 2), round(bath.doubt_k, 2)
    (99.97, 0.29)
    """
    usual_pa = standard_pressure_pa(elevation_m)
    if pressure_pa is not None:
        at_sea_pa = pressure_pa * standard_pressure_pa(0.0) / usual_pa
        if not LOWEST_SEA_PA <= at_sea_pa <= HIGHEST_SEA_PA:
            raise CookError(
                f"--pressure-hpa is {pressure_pa / 100:g}, but at {elevation_m:.0f} m the air has "
                f"about {usual_pa / 100:.0f} hPa; give what a barometer shows on the spot, not the "
                "pressure of a weather report, which is that of the sea"
            )
    weather_k = 0.0
    if pressure_pa is None:
        high_c = saturation_temperature_c(usual_pa + WEATHER_PA)
        weather_k = (high_c - saturation_temperature_c(usual_pa - WEATHER_PA)) / 2
    how = (
        "Boil clean water hard, without salt, in a deep pot. Hold the tip in the middle, off the "
        "bottom, at least 5 cm deep. Steam burns: use tongs or a spoon, keep hands and face away, "
        "and pour no boiling water into cold glass."
    )
    true_c = boiling_point_c(elevation_m, pressure_pa)
    return Bath("boiling water", true_c, hypot(KITCHEN_K, weather_k), how)


@dataclass(frozen=True, slots=True)
class Rest:
    """What the last minute of a probe looks like: mean [°C], standard deviation and drift [K]; how
    fine it reads [K]. ``unrest`` says what is still wrong, "" when it is at rest.
    """

    mean_c: float
    spread_k: float
    drift_k: float
    step_k: float
    unrest: str

    @property
    def doubt_k(self) -> float:
        """How far the mean may be off for what the probe itself does (one standard deviation)."""
        return hypot(self.spread_k, self.step_k / sqrt(12))


def step_k(values: Iterable[float]) -> float:
    """The step by which a probe counts [K]: the least by which two of its readings differ. One that
    has shown a single value may be as coarse as any.

    >>> step_k([20.0, 20.25, 21.5]), step_k([20.0, 20.0])
    (0.25, 0.5)
    """
    steps = [later - earlier for earlier, later in pairwise(sorted(set(values)))]
    return max(FINEST_K, min(steps, default=COARSEST_K))


def rest(readings: Sequence[Reading], step: float) -> Rest | None:
    """Whether a probe has come to rest by its last readings, None while they are too few.

    The readings are in time order; ``step`` is how fine the probe reads [K]: less than that is no
    movement.
    """
    window = _window(readings)
    if not window:
        return None
    values = [reading.value for reading in window]
    slope = linear_regression([reading.mono_s for reading in window], values).slope
    drift_k, spread_k = slope * WINDOW_S, stdev(values)
    unrest = ""
    if abs(drift_k) > max(DRIFT_K, step / 2):
        unrest = f"it still moves, by {drift_k:+.2f} K a minute"
    elif spread_k > max(SPREAD_K, step):
        unrest = f"it is not steady: ±{spread_k:.2f} K; stir, and keep the tip off the wall"
    return Rest(mean(values), spread_k, drift_k, step, unrest)


def _window(readings: Sequence[Reading]) -> Sequence[Reading]:
    """The last readings that fill a minute and are enough, none when there are not so many."""
    for first in range(len(readings) - FEWEST, -1, -1):
        if readings[-1].mono_s - readings[first].mono_s >= WINDOW_S:
            return readings[first:]
    return ()
