"""Under which sun a cook was made: means over its looks, weighted by the time each stands for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from noonpot.core.cookreport import Look
from noonpot.core.sun import light_share

LONGEST_S = 120.0
"""A look stands for no longer than this [s]: what came in a gap is not known."""


@dataclass(frozen=True, slots=True)
class Range:
    """Smallest, mean and largest of one quantity."""

    low: float
    mean: float
    high: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """While the sun was up: its ``elevation_deg``; ``irradiance_wm2`` as measured, and
    ``clear_wm2`` what a clear sky would have given all the time (global horizontal);
    ``clear_share`` measured over clear [-], its low and high the tenth and ninetieth of a hundred;
    ``misaim_deg``, ``beyond`` the share of time beyond the acceptance angle, and ``let_in`` the
    share of the direct light that the aim let in [-]. ``ambient_c`` is over the whole time [°C].
    All are None where nothing was known.
    """

    elevation_deg: Range | None = None
    irradiance_wm2: Range | None = None
    clear_wm2: Range | None = None
    clear_share: Range | None = None
    ambient_c: Range | None = None
    misaim_deg: Range | None = None
    beyond: float | None = None
    let_in: float | None = None


def conditions(looks: Sequence[Look], acceptance_deg: float) -> Conditions:
    """What the looks tell, in time order."""
    weighted = list(_weighted(looks))
    sunny = [(s, look) for s, look in weighted if look.sun is not None and look.sun_up]
    suns = [(s, look.sun) for s, look in sunny if look.sun is not None]
    aimed = [(s, look.misaim_deg) for s, look in sunny if look.misaim_deg is not None]
    both = [
        (s, look.irradiance_wm2, look.sun.ghi)
        for s, look in sunny
        if look.irradiance_wm2 is not None and look.sun is not None
    ]
    direct = [
        (s * look.sun.dni, light_share(look.misaim_deg, acceptance_deg))
        for s, look in sunny
        if look.misaim_deg is not None and look.sun is not None
    ]
    return Conditions(
        elevation_deg=_range((s, sun.elevation_deg) for s, sun in suns),
        irradiance_wm2=_range((s, measured) for s, measured, _ in both),
        clear_wm2=_range((s, sun.ghi) for s, sun in suns),
        clear_share=_clearness(both),
        ambient_c=_range((s, x.ambient_c) for s, x in weighted if x.ambient_c is not None),
        misaim_deg=_range(aimed),
        beyond=_mean((s, float(misaim > acceptance_deg)) for s, misaim in aimed),
        let_in=_mean(direct),
    )


def _weighted(looks: Sequence[Look]) -> Iterable[tuple[float, Look]]:
    for look, following in pairwise(looks):
        yield min((following.at - look.at).total_seconds(), LONGEST_S), look


def _range(told: Iterable[tuple[float, float]]) -> Range | None:
    known = list(told)
    mean = _mean(known)
    values = [value for _, value in known]
    return None if mean is None else Range(min(values), mean, max(values))


def _mean(told: Iterable[tuple[float, float]]) -> float | None:
    known = list(told)
    weight = sum(s for s, _ in known)
    return sum(s * value for s, value in known) / weight if weight > 0 else None


def _clearness(both: Sequence[tuple[float, float, float]]) -> Range | None:
    """Measured over clear: the mean is that of all light, not of its moments."""
    clear = sum(s * ghi for s, _, ghi in both)
    if clear <= 0:
        return None
    shares = [measured / ghi for _, measured, ghi in both if ghi > 0]
    low, high = np.quantile(shares, (0.1, 0.9))
    return Range(float(low), sum(s * m for s, m, _ in both) / clear, float(high))
