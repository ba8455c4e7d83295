"""Light on the aperture of a cooker: beam within the acceptance, diffuse, the horizon.

The sky is told by its clear-sky index: measured global irradiance over that of a clear sky. Under a
cloud the beam goes first, so the index is split before it meets the reflectors.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core.sun import FALL_OFF, LOST_BELOW_DEG, DayTable, Horizon, angle_between

Floats = NDArray[np.float64]

SPLIT_INDEX = np.array([0.0, 0.45, 0.60, 0.70, 0.80, 0.90, 0.97, 1.03, 1.10, 1.40])
SPLIT_BEAM = np.array([0.0, 0.00, 0.04, 0.11, 0.22, 0.42, 0.75, 1.00, 1.08, 1.25])
"""Direct normal over clear-sky direct normal by clear-sky index, means of ten minutes; from the
station Payerne (BSRN), 1 to 15 June 2016, sun above 12°, rounded."""

NIGHT_DEG = -90.0
"""The elevation given to times that no table covers: no sun, and no forecast of any."""


@dataclass(frozen=True, slots=True, eq=False)
class ClearSky:
    """Sun and clear sky at n times, the horizon applied. Arrays of shape (n,).

    ``free`` is 1 where the beam reaches the cooker and 0 where trees or the earth hide it; ``up``
    is 1 while cooking by sun is possible at all (sun free and above 5°). Irradiances in W/m².
    """

    azimuth_deg: Floats
    elevation_deg: Floats
    ghi: Floats
    dni: Floats
    dhi: Floats
    free: Floats
    up: Floats

    @property
    def sine(self) -> Floats:
        """Sine of the sun's elevation, never below 0 [-]."""
        return np.asarray(np.maximum(np.sin(np.radians(self.elevation_deg)), 0.0))

    def part(self, rows: slice) -> "ClearSky":
        """Some of the times."""
        columns = (self.azimuth_deg, self.elevation_deg, self.ghi, self.dni, self.dhi)
        return ClearSky(*(c[rows] for c in (*columns, self.free, self.up)))

    def blocks(self, size: int) -> "ClearSky":
        """Means of ``size`` neighbouring times, counted back from the last one."""
        columns = (self.azimuth_deg, self.elevation_deg, self.ghi, self.dni, self.dhi)
        return ClearSky(*(block_means(c, size) for c in (*columns, self.free, self.up)))


def block_means(values: Floats, size: int) -> Floats:
    """Means over blocks of ``size``, counted back from the end; a rest at the start is dropped.

    >>> block_means(np.array([9.0, 1.0, 3.0, 5.0, 7.0]), 2)
    array([2., 6.])
    """
    count = len(values) // size
    rows = values[len(values) - count * size :].reshape(count, size)
    return np.asarray(rows.mean(axis=1))


def clear_sky(tables: Sequence[DayTable], horizon: Horizon, times_s: Floats) -> ClearSky:
    """Sun and clear sky at Unix times [s], shape (n,); night where no table reaches."""
    rows = np.zeros((5, len(times_s)))
    rows[1] = NIGHT_DEG
    for table in tables:
        inside = (times_s >= table.start_s) & (times_s <= table.end_s)
        if inside.any():
            rows[:, inside] = table.at_many(times_s[inside])
    azimuth, elevation, ghi, dni, dhi = rows
    edge = np.zeros_like(azimuth)
    if horizon:
        corners, heights = zip(*horizon, strict=True)
        edge = np.interp(azimuth, corners, heights, period=360)
    free = (elevation > np.maximum(edge, 0.0)).astype(float)
    up = (elevation > np.maximum(edge, LOST_BELOW_DEG)).astype(float)
    return ClearSky(azimuth, elevation, ghi, dni, dhi, free, up)


def beam_share(index: Floats) -> Floats:
    """Direct normal over clear-sky direct normal for a clear-sky index [-], any shape.

    >>> round(float(beam_share(np.array(0.8))), 2)
    0.22
    """
    return np.asarray(np.interp(index, SPLIT_INDEX, SPLIT_BEAM))


def split(index: Floats, sky: ClearSky) -> tuple[Floats, Floats]:
    """Beam that reaches the cooker and diffuse light [W/m²] for a clear-sky index of shape (...,
    n).

    What the index promises beyond the beam is diffuse; never less than half the clear-sky diffuse.
    """
    beam = beam_share(index) * sky.dni
    diffuse = np.maximum(index * sky.ghi - beam * sky.sine, 0.5 * index * sky.dhi)
    return beam * sky.free, diffuse


def index_of(ghi: Floats, sky: ClearSky) -> Floats:
    """Clear-sky index of measured global irradiance [W/m²], NaN where the sun is too low."""
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.where(sky.ghi > 20.0, ghi / sky.ghi, np.nan)
    return np.clip(index, 0.0, 1.4)


def aim_gain(misaim_deg: Floats, acceptance_deg: Floats) -> Floats:
    """The share of the beam that a cooker still gets at this misaim, as ``sun.light_share`` for
    arrays that broadcast.

    >>> round(float(aim_gain(np.array(30.0), np.array(30.0))), 3)  # cos 30° / 2
    0.433
    """
    cosine = np.maximum(np.cos(np.radians(misaim_deg)), 0.0)
    return cosine / (1 + (misaim_deg / acceptance_deg) ** FALL_OFF)


def misaim(aims: Sequence[tuple[float, float, float]], times_s: Floats, sky: ClearSky) -> Floats:
    """Angle between aim and sun [degrees] at each time, shape (n,).

    ``aims`` are (Unix time [s], azimuth, elevation) in time order. Before the first one, and with
    no aim at all, the cooker is taken to face the sun.
    """
    angle = np.zeros(len(times_s))
    for at_s, azimuth, elevation in aims:
        later = times_s >= at_s
        angle[later] = angle_between(
            azimuth, elevation, sky.azimuth_deg[later], sky.elevation_deg[later]
        )
    return angle


def on_aperture(
    index: Floats, sky: ClearSky, misaim_deg: Floats, acceptance_deg: Floats, diffuse_view: Floats
) -> Floats:
    """Useful light per area of aperture [W/m²]: beam x gain + diffuse x the share that is caught.

    Arguments broadcast to (..., n); ``diffuse_view`` lies between 0 and 1 [-].
    """
    beam, diffuse = split(index, sky)
    return beam * aim_gain(misaim_deg, acceptance_deg) + diffuse * diffuse_view
