"""What kind of cooker this is: five numbers with intervals, out of all its cooks together.

The numbers belong to a model of two masses, the pot that the probe sees and a wall behind it. They
are what this model needs to look like the cooker, and their intervals are widened by what it is
known to get wrong on cookers of richer physics.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker
from noonpot.core.balance import balance_of
from noonpot.core.belief import Belief
from noonpot.core.clearhours import fitted_by_clear_hours
from noonpot.core.estimation import CookerCase
from noonpot.core.evidence import Evidence
from noonpot.core.learning import COOKER_DRIFT
from noonpot.core.station import CookerSpec
from noonpot.core.straightline import Estimate

Floats = NDArray[np.float64]

MEMBERS = 4000
BETWEEN = (0.05, 0.5, 0.95)
"""The interval holds the truth with 90 %."""
SURELY = (0.025, 0.5, 0.975)
"""A change is real when the interval of 95 % leaves out "none"."""
SUN_WM2, AIR_C, EXCESS_K = 900.0, 25.0, 50.0
ENOUGH_BLOCKS = 6
"""An hour that tells anything of the cooker; a cook with less is left out."""
MODEL_DOUBT = np.array([0.10, 0.12, 0.25, 0.15, 0.20, 0.13, 0.1, 0.05])
"""What the model gets wrong of each constant, in the order of ``cooker.NAMES``."""
DAYS_DIFFER = 2.0
"""The days of a cooker differ by so many times its usual drift, as a fit of several days sees it:
set so that a change is hardly ever called real where nothing was changed."""
USUAL_GAIN, USUAL_GAIN_SD = 0.5, 0.3
"""Light that becomes heat, and how far its logarithm spreads: 0.35 to 0.65 (from memory), with some
more room for mirrors that are counted into the aperture."""
SKY_DOUBT = np.array([0.13, 0.25, 0.0, 0.0, 0.10, 0.12, 0.1, 0.05])
"""What it gets wrong besides where no sensor saw the sky."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of a profile: in words, with its unit and what it is for n cookers, shape (n,)."""

    words: str
    unit: str
    of: Callable[[cooker.Cooker, float], Floats]


def _stagnation_c(kettle: cooker.Cooker, _: float) -> Floats:
    """Where loss eats all light: gain x light = loss x (1 + curve x excess / 100) x excess."""
    rise = kettle.gain / kettle.loss * SUN_WM2
    bent = kettle.curve / 100
    root = np.sqrt(1 + 4 * bent * rise) - 1
    straight = bent < 1e-6
    excess = np.where(straight, rise, root / np.where(straight, 1.0, 2 * bent))
    return np.asarray(AIR_C + excess)


QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        "optical_gain": Quantity(
            "light that becomes heat", "of 1", lambda k, area: k.gain * k.capacity / area
        ),
        "loss_wm2k": Quantity(
            f"loss at {EXCESS_K:.0f} K above the air, on the aperture",
            "W/(m² K)",
            lambda k, area: cooker.loss_rate(k, np.array(EXCESS_K)) * k.capacity / area,
        ),
        "heat_capacity_j_k": Quantity(
            "heat that the empty cooker holds",
            "J/K",
            lambda k, _: k.capacity * (1 + k.wall * k.wall_time),
        ),
        "acceptance_deg": Quantity(
            "off the sun by so much it gets half the light", "°", lambda k, _: k.acceptance
        ),
        "stagnation_c": Quantity(
            f"hottest when empty, in sun of {SUN_WM2:.0f} W/m² and air of {AIR_C:.0f} °C",
            "°C",
            _stagnation_c,
        ),
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """``cooks`` is from how many cooks, ``hours`` from how many hours that told anything;
    ``measured`` whether a sensor saw the sky in all of them, ``off_sun`` whether the cooker was
    seen off the sun as well. ``belief`` is what is believed of the constants, for comparing with
    another profile of the same cooker; ``used`` the balances as they were used, in their order.
    """

    cooks: int
    hours: float
    measured: bool
    off_sun: bool
    aperture_m2: float
    belief: Belief
    numbers: Mapping[str, Estimate]
    used: tuple[CookerCase | None, ...]

    @property
    def ahead(self) -> Belief:
        """What a forecast should start from; it has doubts of its own about its model."""
        return self.belief if self.measured else self.belief.widened(SKY_DOUBT)

    @property
    def first_merit(self) -> float:
        """The first figure of merit that the model would have [m² K/W]."""
        return (self.numbers["stagnation_c"].value - AIR_C) / SUN_WM2


@dataclass(frozen=True, slots=True)
class Change:
    """One number after over before, and whether it is real."""

    ratio: Estimate

    @property
    def real(self) -> bool:
        """Whether chance alone hardly makes such a change."""
        return not self.ratio.low <= 1 <= self.ratio.high


def balances(cooks: Sequence[Evidence]) -> list[CookerCase | None]:
    """The balance of each cook, None for one that tells too little."""
    found = [balance_of(cook.log, seed) for seed, cook in enumerate(cooks)]
    return [c if c is not None and c.use.sum() >= ENOUGH_BLOCKS else None for c in found]


def prior_of(spec: CookerSpec) -> Belief:
    """What is believed of a cooker before it was watched: the usual, and that no more than its
    light can become heat. Gain, loss and capacity are told apart by that alone where no sensor saw
    the sky.
    """
    usual = Belief.of(*cooker.prior(spec.aperture_m2, spec.acceptance_deg))
    share = np.isin(cooker.NAMES, ("rise", "loss", "capacity")).astype(float)
    want = np.log(USUAL_GAIN * spec.aperture_m2) - share @ usual.mean
    gain = usual.cov @ share / (share @ usual.cov @ share + USUAL_GAIN_SD**2)
    return Belief(usual.mean + gain * want, usual.cov - np.outer(gain, usual.cov @ share))


def profile(spec: CookerSpec, cases: Sequence[CookerCase | None]) -> Profile | None:
    """The profile of a cooker from the balances of its cooks; None without any."""
    told = [case for case in cases if case is not None]
    if not told:
        return None
    found, good = fitted_by_clear_hours(prior_of(spec), told)
    measured = all(np.isfinite(case.index[case.use > 0]).all() for case in told)
    belief = found.widened(DAYS_DIFFER * COOKER_DRIFT / np.sqrt(len(good)))
    doubted = belief.widened(MODEL_DOUBT if measured else np.hypot(MODEL_DOUBT, SKY_DOUBT))
    rest = iter(good)
    drawn = doubted.draw(MEMBERS, np.random.default_rng(0))
    off = np.concatenate([case.misaim_deg[case.use > 0] for case in good])
    return Profile(
        cooks=len(good),
        hours=float(sum(case.use.sum() for case in good)) / 6,
        measured=measured,
        off_sun=bool((off > spec.acceptance_deg / 2).sum() >= ENOUGH_BLOCKS),
        aperture_m2=spec.aperture_m2,
        belief=belief,
        numbers={
            name: _between(q.of(cooker.Cooker.of(drawn), spec.aperture_m2), BETWEEN)
            for name, q in QUANTITIES.items()
        },
        used=tuple(next(rest) if case is not None else None for case in cases),
    )


def changes(before: Profile, after: Profile) -> Mapping[str, Change]:
    """How each number changed between two profiles of one cooker."""
    rng = np.random.default_rng(1)
    sides = [cooker.Cooker.of(p.belief.draw(MEMBERS, rng)) for p in (before, after)]
    found = {}
    for name, quantity in QUANTITIES.items():
        old, new = (quantity.of(side, before.aperture_m2) for side in sides)
        base = AIR_C if name == "stagnation_c" else 0.0  # what it gains over the air
        found[name] = Change(_between((new - base) / (old - base), SURELY))
    return found


def _between(values: Floats, levels: tuple[float, float, float]) -> Estimate:
    low, middle, high = np.quantile(values, levels)
    return Estimate(float(middle), float(low), float(high))
