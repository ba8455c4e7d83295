"""The ten-minute intervals of ASABE S580.1 out of a watched cook.

The standard tests with water. A cook of other wet food is rated in its manner; dense food is not,
since its middle lags behind the pot.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from itertools import pairwise

import numpy as np

from noonpot.core import light
from noonpot.core.cooklog import DISTURBED_S, Loaded
from noonpot.core.evidence import Evidence, Light, LightFrom
from noonpot.core.load import HEAT_PER_KG
from noonpot.core.readings import Role
from noonpot.core.sun import solar_date

INTERVAL_S = 600.0
WATER_J_KGK = 4186.0
STANDARD_WM2 = 700.0
BEFORE_S = 1200.0
KG_PER_M2, KG_NEAR = 7.0, 0.1
"""7 kg on each square metre; within a tenth of it counts as met (our choice)."""
WARM_K, OWN_HEAT_S = 20.0, 3600.0
"""A pot so much hotter than the food that goes in was heated up empty; box and pot have given that
heat away after an hour (our choice: two to three time constants)."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Ten minutes of one load; what is None is not known.

    ``start_c`` and ``end_c`` of the food, ``ambient_c`` its mean [°C]; ``heat_j_k`` of the load
    [J/K]; ``light`` its means; ``solar_h`` the true solar time of its middle [h]; ``turned_s`` the
    time since the last turn [s] and ``caught`` the share of the beam that the aim catches [-];
    ``before_wm2`` is the light of the twenty minutes before, ``to_load`` brings the power to that
    of 7 kg on each square metre [-], ``own_heat`` says whether the cooker may still give heat that
    it took in before the food came.
    """

    at_s: float
    day: date
    water: bool
    mass_kg: float
    heat_j_k: float
    start_c: float
    end_c: float
    ambient_c: float
    boiling_c: float
    light: Light
    solar_h: float
    kg_per_m2: float | None = None
    wind_ms: float | None = None
    turned_s: float | None = None
    caught: float | None = None
    own_heat: bool | None = None
    before_wm2: float | None = None
    to_load: float = 1.0
    disturbed: bool = False
    by_the_book: bool = False

    @property
    def power_w(self) -> float:
        """Heat that the food took [W] (clause 7.2, eq. 1)."""
        return (self.end_c - self.start_c) * self.heat_j_k / INTERVAL_S

    @property
    def standard_w(self) -> float:
        """The same brought to 700 W/m² [W] (clause 7.4, eq. 2)."""
        return self.power_w * STANDARD_WM2 / self.light.across_wm2 * self.to_load

    @property
    def food_c(self) -> float:
        """The mean of the food [°C]."""
        return (self.start_c + self.end_c) / 2

    @property
    def excess_k(self) -> float:
        """Food over air [K] (clause 7.5, eq. 3)."""
        return self.food_c - self.ambient_c


def is_water(food: str) -> bool:
    """Whether a food of this name is plain water.

    >>> is_water("water"), is_water("Water-test"), is_water("soup")
    (True, True, False)
    """
    return "water" in re.split(r"[\W_]+", food.lower())


def intervals(evidence: Evidence) -> Iterator[Interval]:
    """All intervals of a cook of which food, air and light are known."""
    for loaded, weighed in evidence.loads():
        water = is_water(loaded.food)
        if not weighed or not (loaded.wet or water):
            continue
        for at_s in _starts(evidence, loaded):
            interval = _interval(evidence, loaded, at_s, water=water)
            if interval is not None:
                yield interval


def _starts(evidence: Evidence, loaded: Loaded) -> Iterator[float]:
    """Whole intervals one after the other; a lid that is lifted begins them anew."""
    span = evidence.log.trace.span()
    if span is None:
        return
    end_s = min(loaded.until_s, span[1])
    lids = sorted(lid for lid in evidence.log.lids_s if loaded.at_s <= lid < end_s)
    at_s = loaded.at_s
    while at_s + INTERVAL_S <= end_s + 1:
        lid = max((x for x in lids if x < at_s + INTERVAL_S), default=None)
        if lid is not None and at_s < lid + DISTURBED_S:
            if lid > loaded.at_s:
                yield at_s  # told as disturbed
            at_s = lid + DISTURBED_S
            continue
        yield at_s
        at_s += INTERVAL_S


def _interval(evidence: Evidence, loaded: Loaded, at_s: float, *, water: bool) -> Interval | None:
    end_s, middle_s = at_s + INTERVAL_S, at_s + INTERVAL_S / 2
    start_c, end_c = (evidence.value(Role.CORE, t) for t in (at_s, end_s))
    ambient_c = evidence.mean(Role.AMBIENT, at_s, end_s)
    shone = evidence.light(at_s, end_s)
    noon_s = solar_noon_s(evidence, middle_s)
    if start_c is None or end_c is None or ambient_c is None or shone is None or noon_s is None:
        return None
    turned_s, caught = _aimed(evidence, at_s, end_s)
    area = evidence.aperture_m2
    before = evidence.light(at_s - BEFORE_S, at_s)
    return Interval(
        at_s=at_s,
        day=solar_date(datetime.fromtimestamp(at_s, UTC), evidence.log.place.longitude),
        water=water,
        mass_kg=loaded.mass_kg,
        heat_j_k=loaded.mass_kg * (WATER_J_KGK if water else HEAT_PER_KG[True]),
        start_c=start_c,
        end_c=end_c,
        ambient_c=ambient_c,
        boiling_c=evidence.log.boiling_c,
        light=shone,
        solar_h=12 + (middle_s - noon_s) / 3600,
        kg_per_m2=None if area is None else loaded.mass_kg / area,
        wind_ms=evidence.number("wind_ms", end_s),
        turned_s=turned_s,
        caught=caught,
        own_heat=_own_heat(evidence, loaded, at_s),
        before_wm2=None if before is None else before.across_wm2,
        disturbed=evidence.disturbed(at_s, end_s),
        by_the_book=evidence.told("test", end_s) == "power",
    )


def _aimed(evidence: Evidence, since_s: float, until_s: float) -> tuple[float | None, float | None]:
    """The longest time without a turn that ends within a while [s], and the share of the beam that
    the aim catches in it [-]; None where nobody told the aim.
    """
    aims = evidence.log.aims_until(until_s)
    if not aims or aims[0][0] > since_s:
        return None, None
    times = np.linspace(since_s, until_s, 5)
    sky = light.clear_sky(evidence.log.tables, (), times)
    off = light.misaim(aims, times, sky)
    caught = light.aim_gain(off, np.array(evidence.log.cooker.acceptance_deg)).mean()
    turns = [aim_s for aim_s, _, _ in aims]
    pairs = pairwise([*turns, until_s])
    return max(b - a for a, b in pairs if b > since_s), float(caught)


def brought_to_load(interval: Interval, held_j_k: float) -> Interval:
    """The same as if the load had been that of the standard, for a cooker that holds ``held_j_k``
    [J/K] when it is empty. Light warms cooker and food together: the more food, the greater its
    share. The standard knows no such step; without it small loads would rate too low.
    """
    if interval.kg_per_m2 is None or abs(interval.kg_per_m2 / KG_PER_M2 - 1) <= KG_NEAR:
        return interval
    wanted_j_k = interval.mass_kg / interval.kg_per_m2 * KG_PER_M2 * WATER_J_KGK
    shares = [heat / (heat + held_j_k) for heat in (wanted_j_k, interval.heat_j_k)]
    return replace(interval, to_load=shares[0] / shares[1])


def _own_heat(evidence: Evidence, loaded: Loaded, at_s: float) -> bool | None:
    """Box and pot that stood in the sun empty warm the food for an hour, whatever shines."""
    pot_c = evidence.value(Role.POT, loaded.at_s - 60.0)
    if pot_c is None:  # the cook began with the food in it
        pot_c = evidence.value(Role.POT, loaded.at_s)
    food_c = loaded.start_c
    if food_c is None:
        food_c = evidence.value(Role.CORE, loaded.at_s + DISTURBED_S)
    if pot_c is None or food_c is None:
        return None
    return pot_c - food_c > WARM_K and at_s < loaded.at_s + OWN_HEAT_S


def solar_noon_s(evidence: Evidence, at_s: float) -> float | None:
    """When the sun stands highest on the day of this time [Unix s], None without its table."""
    for table in evidence.log.tables:
        if table.start_s <= at_s <= table.end_s:
            return table.start_s + table.step_s * float(np.argmax(table.elevation_deg))
    return None


def from_sensor(interval: Interval) -> bool:
    """Whether the light of this interval was measured."""
    return interval.light.source is LightFrom.SENSOR
