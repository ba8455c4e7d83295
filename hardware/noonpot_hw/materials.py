"""What simulated foods are made of."""

import re
from typing import NamedTuple

WATER_CP = 4186.0
"""Heat capacity of water [J/(kg K)], the value of ASABE S580.1."""


class Material(NamedTuple):
    """A kind of food.

    ``conductivity`` [W/(m K)], ``density`` [kg/m³], ``capacity`` [J/(kg K)], ``water`` the share
    that can turn to steam [kg/kg]. ``vapour`` tells how much vapour in its pores adds to the
    conductivity at boiling, 1 for as much again. ``piece_kg`` is the size it is cooked in, None for
    all in one piece. ``dense`` food conducts, other food mixes.
    """

    conductivity: float
    density: float
    capacity: float
    water: float
    vapour: float = 0.0
    piece_kg: float | None = None
    dense: bool = True
    usual_kg: float = 1.0


# Dough within 0.35-0.50, 500-1100 and 2500-3000 (from memory; the review is Rask, J. Food Eng. 9,
# 1989), meat and potato in the middle of 0.45-0.57, 1050-1090 and 3300-3700 (from memory). Water of
# dough, 0.6 of the flour: common practice. Vapour, pieces and usual masses: chosen, no source.
BREAD = Material(0.40, 550.0, 2800.0, 0.38, vapour=1.5, usual_kg=0.6)
MEAT = Material(0.48, 1070.0, 3450.0, 0.65, vapour=0.2)
POTATO = Material(0.53, 1080.0, 3600.0, 0.75, vapour=0.2, piece_kg=0.18)
STEW = Material(0.55, 1030.0, 3900.0, 0.80, dense=False, usual_kg=1.5)
WATER = Material(0.60, 1000.0, WATER_CP, 1.0, dense=False, usual_kg=1.5)

KINDS = {
    **dict.fromkeys(("bread", "loaf", "dough", "cake", "brioche", "pie"), BREAD),
    **dict.fromkeys(("chicken", "turkey", "meat", "roast", "beef", "pork", "lamb"), MEAT),
    **dict.fromkeys(("potato", "potatoes", "root", "roots", "beet", "squash"), POTATO),
    **dict.fromkeys(("water", "tea"), WATER),
}


def material_of(food: str) -> Material:
    """What a food of this name is made of; a name that says nothing is taken for a stew.

    >>> material_of("sourdough-bread") is BREAD, material_of("lentils") is STEW
    (True, True)
    """
    words = re.split(r"[\W_]+", food.lower())
    return next((KINDS[word] for word in words if word in KINDS), STEW)
