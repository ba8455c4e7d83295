"""Foods: when each is done, and what the elevation makes of it."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from noonpot.core.lethality import POULTRY, Lethality
from noonpot.core.names import meant
from noonpot.errors import CookError

BELOW_BOILING_K = 2.0
"""How far below boiling a moist core comes to rest, 1 to 3 K (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Food:
    """What makes one food done.

    ``target_c`` is the core temperature that means done [°C], held for ``hold_s`` [s];
    ``loading_pot_c`` is what the pot should have before the food goes in [°C], None for food that
    heats up with the pot; ``safe_c`` is what makes a hazardous food safe [°C], None for food that
    is safe raw. ``wet`` food cooks in water. Once done it may stay hot in the pot for
    ``overdone_s`` [s], None for the usual time. ``source`` says where the numbers come from,
    ``caution`` what no thermometer can tell.
    """

    name: str
    target_c: float
    hold_s: float = 0.0
    loading_pot_c: float | None = None
    safe_c: float | None = None
    wet: bool = False
    overdone_s: float | None = None
    source: str = ""
    caution: str = ""
    lethality: Lethality = POULTRY
    spoils: bool = True

    def __post_init__(self) -> None:
        if self.safe_c is not None and self.target_c < self.safe_c:
            raise ValueError(
                f"target_c is {self.target_c:g}, but must not be below safe_c, {self.safe_c:g}; "
                "raise the target"
            )
        if self.hazardous and math.isinf(self.lethality.needs_s(self.target_c)):
            raise ValueError(
                f"target_c is {self.target_c:g}, at which its lethality is never reached; raise "
                'the target, or write a lethality that fits the food, "roast" say'
            )

    @property
    def hazardous(self) -> bool:
        """Whether this food can make people ill when it is not heated enough."""
        return self.safe_c is not None


@dataclass(frozen=True, slots=True)
class Target:
    """The core temperature that means done at one place [°C].

    ``words`` tells what the elevation changes, empty when it changes nothing.
    """

    temp_c: float
    words: str = ""


def celsius(temp_c: float) -> str:
    """A temperature as text."""
    return f"{temp_c:.0f} °C"


def target_at(
    food: Food, boiling_c: float, temperature: Callable[[float], str] = celsius
) -> Target:
    """The target where water boils at ``boiling_c``: a moist core cannot be hotter than that, so a
    target above it is lowered, but never below what makes the food safe.

    Parameters
    ----------
    food
        What is cooked.
    boiling_c
        Boiling point of water at the cooker. [°C]
    temperature
        Writes a temperature [°C] in the reader's unit.

    >>> bread = Food("bread", target_c=96.0)
    >>> target_at(bread, 99.97).temp_c
    96.0
    >>> round(target_at(bread, 94.65).temp_c, 2)  # 1600 m: 94.65 - 2
    92.65
    >>> target_at(bread, 94.65).words
    'Water boils at 95 °C here, so bread counts as done at 93 °C instead of 96 °C.'
    """
    reachable_c = boiling_c - BELOW_BOILING_K
    if food.target_c <= reachable_c:
        return Target(food.target_c)
    here = f"Water boils at {temperature(boiling_c)} here, so {food.name}"
    if food.safe_c is not None and food.safe_c > reachable_c:
        return Target(
            food.safe_c,
            f"{here} may never reach the {temperature(food.safe_c)} that make it safe; "
            "cook it on another heat.",
        )
    if temperature(reachable_c) == temperature(food.target_c):  # not worth a word
        return Target(reachable_c)
    return Target(
        reachable_c,
        f"{here} counts as done at {temperature(reachable_c)} "
        f"instead of {temperature(food.target_c)}.",
    )


def asked_target(
    food: Food | None,
    asked_c: float,
    boiling_c: float,
    temperature: Callable[[float], str] = celsius,
) -> Target:
    """The target that a person asked for, lowered where it is out of reach; see ``target_at``.

    >>> asked_target(None, 96.0, 94.65).temp_c
    92.65
    """
    name = food.name if food else "food"
    return target_at(Food(name, asked_c), boiling_c, temperature)


def food_named(foods: Mapping[str, Food], name: str) -> Food:
    """The food of this name; capitals and blanks do not matter.

    Raises CookError when there is none, with the nearest name.
    """
    key = "-".join(name.lower().split())
    if key not in foods:
        raise CookError(f'food "{name}" is not in the table; {meant(key, foods)}')
    return foods[key]
