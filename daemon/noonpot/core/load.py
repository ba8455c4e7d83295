"""What is in the pot: heat that walks from the pot through the food to its core.

Four stages in a row, outside to core, shaped as the shells of a ball; a stew is the same with quick
exchange between them. All rates are per heat capacity of the load, so that the mass enters by the
rates alone. The step is implicit: it cannot swing, and a hotter pot never cools the core.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SHARES = np.array([0.50, 0.30, 0.15, 0.05])[:, None]
"""Heat capacity of the stages, outside to core, of the whole load."""
FACES = np.array([1.0, 0.54, 0.20])[:, None]
"""Conductance between neighbours as a share of the outermost: face over distance in a ball."""

NAMES = ("outer", "inner", "latent", "vent", "vapour", "drive")
LATENT_WIDTH_K = 6.0
HEAT_PER_KG = {True: 3800.0, False: 2800.0, None: 3300.0}
"""Heat capacity of wet, dry and unknown food [J/kg K] (common practice, no source)."""
MASS_KG = {True: 1.2, False: 0.8, None: 1.0}
"""Taken where nobody weighed [kg]."""


@dataclass(frozen=True, slots=True, eq=False)
class FoodConstants:
    """Constants of n foods, each of shape (n,).

    ``outer`` is the rate from pot to food and ``inner`` between the outermost stages [1/s];
    ``latent`` what evaporation adds to the heat capacity just below boiling, as a multiple;
    ``vent`` the cooling by steam that escapes [K/s at half the boiling pressure]; ``vapour`` by how
    much steam multiplies the inner exchange at boiling; ``drive`` how much hotter the surroundings
    of the food are than the pot probe says, as a share of the excess over ambient.
    """

    outer: Floats
    inner: Floats
    latent: Floats
    vent: Floats
    vapour: Floats
    drive: Floats

    @classmethod
    def of(cls, values: Floats) -> "FoodConstants":
        """From rows in the order of ``NAMES``, logarithms but for the last; shape (n, 6)."""
        outer, inner, latent, vent, vapour = np.exp(values[:, :5]).T
        return cls(outer, inner, latent, vent, vapour, values[:, 5])

    def rows(self, members: NDArray[np.int_]) -> "FoodConstants":
        """Some of the members."""
        return FoodConstants(*(getattr(self, field.name)[members] for field in fields(self)))


def prior(wet: bool | None) -> tuple[Floats, Floats]:
    """Mean and standard deviation of the constants' row of 1 kg, before any was cooked.

    One kilogram of stew follows its pot in 20 to 60 minutes; the core of a small loaf takes one to
    two hours (common practice, no source). Unknown food gets the middle of both, with more doubt.
    How far evaporation slows the last kelvins differs so much from food to food and pot to pot that
    only the cook itself, or an earlier one, can tell.
    """
    dry = np.append(np.log([1 / 1600, 1 / 2500, 0.5, 2e-4, 1.2]), 0.03)
    moist = np.append(np.log([1 / 1200, 1 / 240, 0.6, 2e-4, 0.05]), 0.08)
    dry_sd = np.array([0.5, 0.5, 1.2, 1.0, 0.9, 0.08])
    moist_sd = np.array([0.5, 0.7, 1.0, 1.0, 0.5, 0.12])
    if wet is None:
        return (dry + moist) / 2, np.hypot((dry_sd + moist_sd) / 2, (dry - moist) / 2)
    return (moist, moist_sd) if wet else (dry, dry_sd)


def by_mass(mass_kg: float, wet: bool | None) -> Floats:
    """What to add to the constants' row of 1 kg for another mass, shape (6,).

    Rates fall with the size: surface over heat capacity as mass^(-1/3), conduction in a solid as
    mass^(-2/3).
    """
    third = np.log(mass_kg) / 3
    return np.array([-third, -third if wet else -2 * third, 0.0, 0.0, 0.0, 0.0])


def heat_j_per_k(mass_kg: float, wet: bool | None) -> float:
    """Heat capacity of a load [J/K].

    >>> heat_j_per_k(0.5, wet=False)
    1400.0
    """
    return mass_kg * HEAT_PER_KG[wet]


NO_STEAM_C = -100.0
"""Nothing colder is reckoned with: a pot of nonsense may take a stage of the food to anywhere."""


def steam_share(temp_c: Floats, boiling_c: float) -> Floats:
    """Saturation pressure over the pressure of boiling [-], by Clausius and Clapeyron with the heat
    of evaporation at 80 °C: exp(5000 K (1/Tb - 1/T)).

    >>> round(float(steam_share(np.array(80.0), 100.0)), 2)  # 47.4 kPa / 101.3 kPa = 0.468
    0.47
    """
    kelvin = np.clip(temp_c, NO_STEAM_C, boiling_c) + 273.15
    return np.exp(5000.0 * (1 / (boiling_c + 273.15) - 1 / kelvin))


def start(core_c: Floats) -> Floats:
    """Stages of food of one temperature throughout [°C], shape (4, n)."""
    return np.tile(core_c, (len(SHARES), 1))


@dataclass(frozen=True, slots=True, eq=False)
class Ready:
    """A step that waits for the surroundings of the food: the skin will be ``idle`` + ``follow`` x
    what surrounds it [°C], at most boiling, and so on inwards.
    """

    idle: Floats
    follow: Floats
    inwards: list[tuple[Floats, Floats]]
    outer: Floats
    boiling_c: float

    def skin(self, surround_c: Floats) -> Floats:
        """The outermost stage at the end of the step [°C]."""
        return np.minimum(self.idle + self.follow * surround_c, self.boiling_c)

    def flow(self, surround_c: Floats) -> tuple[Floats, Floats]:
        """Heat that goes in, over the heat capacity of the load [K], and its growth with every
        kelvin of what surrounds the food [-].
        """
        skin = self.skin(surround_c)
        return self.outer * (surround_c - skin), self.outer * np.where(
            skin < self.boiling_c, 1 - self.follow, 1.0
        )

    def stages(self, surround_c: Floats) -> Floats:
        """All stages at the end of the step [°C], shape (4, n)."""
        result = [self.skin(surround_c)]
        for known, slope in self.inwards:
            result.append(np.minimum(known + slope * result[-1], self.boiling_c))
        return np.array(result)


def ready(stages_c: Floats, food: FoodConstants, boiling_c: float, step_s: float | Floats) -> Ready:
    """All of a step that can be reckoned before its surroundings are known.

    ``stages_c`` has shape (4, n), outside first, the others (n,). Implicit in the temperatures (a
    tridiagonal system, solved by elimination), explicit in the coefficients. Nothing moist gets
    hotter than boiling: what goes on flowing in becomes steam.
    """
    share = steam_share(stages_c, boiling_c)
    below = np.maximum(boiling_c - 2.0 - stages_c, 0.0)
    held = SHARES * (1 + food.latent * np.exp(-((below / LATENT_WIDTH_K) ** 2)))
    carry = food.inner * step_s * FACES * (1 + food.vapour * (share[1:] + share[:-1]) / 2)
    outer = food.outer * step_s
    vent = 0.5 * food.vent * step_s * share[0] / np.maximum(1.02 - share[0], 0.05)

    # from the core outwards: stage i = known[i] + slope[i] * stage i-1
    known, slope = [held[3] * stages_c[3] / (held[3] + carry[2])], [carry[2] / (held[3] + carry[2])]
    for i in (2, 1):
        total = held[i] + carry[i - 1] + carry[i] * (1 - slope[-1])
        known.append((held[i] * stages_c[i] + carry[i] * known[-1]) / total)
        slope.append(carry[i - 1] / total)
    total = held[0] + outer + carry[0] * (1 - slope[-1])
    idle = (held[0] * stages_c[0] - vent + carry[0] * known[-1]) / total
    inwards = list(zip(reversed(known), reversed(slope), strict=True))
    return Ready(idle, outer / total, inwards, outer, boiling_c)


def step(
    stages_c: Floats,
    food: FoodConstants,
    surround_c: Floats,
    boiling_c: float,
    step_s: float | Floats,
) -> tuple[Floats, Floats]:
    """The stages one step later, and the heat that went in over heat capacity of the load [K]."""
    waiting = ready(stages_c, food, boiling_c, step_s)
    return waiting.stages(surround_c), waiting.flow(surround_c)[0]
