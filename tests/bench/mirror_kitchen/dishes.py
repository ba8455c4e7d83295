"""What is cooked: loaves and pots of wet food, as cylinders with constants of their own.

All numbers are scenarios of our own within the ranges of textbooks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RINGS, LAYERS = 7, 8
LARGER = {"panel": 0.75, "iron": 1.15}
"""Loads over those of the other kinds of cookers."""
BREADS = ("bread", "bread", "bread", "enriched-bread", "rye-bread")
BREAD_TARGETS_C = (88, 90, 90, 92, 92, 93, 94, 95)
WET_FOODS = ("casserole", "casserole", "rice", "rice", "stew", "stew", "polenta")
WET_TARGETS_C = {
    "rice": (85, 88, 90, 92),
    "stew": (82, 85, 88, 90),
    "casserole": (74, 78, 82, 85),
    "polenta": (80, 85, 88),
}
STIRS = {"casserole": (0.1, 0.7), "stew": (1.2, 4.0), "rice": (2.0, 4.5), "polenta": (0.4, 1.2)}
SETS = {"rice": 0.95, "polenta": 0.4}
WET_RHO = 1040.0


@dataclass(frozen=True, slots=True)
class Dish:
    """One load. ``constants`` are those of ``Dishes``."""

    food: str
    wet: bool
    mass_kg: float
    target_c: float
    constants: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Dishes:
    """The constants of many loads side by side, each shape (cooks,)."""

    radius: Floats  # [m]
    height: Floats  # [m]
    bread: Floats  # 1 for bread, 0 for wet food
    rho: Floats  # [kg/m³]
    water: Floats  # [kg for each kg of what is dry]
    cp_dry: Floats  # [J/(kg K)]
    k0: Floats  # conductivity when cold [W/(m K)]
    porous: Floats  # how well vapour passes the pores, over free air
    gel: Floats  # heat that swelling starch takes near 70 °C [J/kg]
    stir: Floats  # what currents in wet food add to the conductivity [W/(m K)]
    sets: Floats  # share of this that is lost when it sets
    h_bot: Floats  # from the pot's bottom [W/(m² K)]
    h_side: Floats  # from the pot's wall [W/(m² K)]
    h_vside: Floats  # from the air beside a loaf [W/(m² K)]
    aw: Floats  # activity of its water
    wetness: Floats  # share of its top that evaporates
    side_wet: Floats  # share of its side that evaporates
    salt: Floats  # how far above water it boils [K]
    creep: Floats  # diffusivity of its water [m²/s]
    probe_r: Floats  # where the probe's tip is, over radius and height
    probe_z: Floats
    stem: Floats  # share of the air above that the tip sees along the probe
    start_c: Floats

    @classmethod
    def of(cls, dishes: Sequence[Dish]) -> "Dishes":
        """One dish for each cook."""
        return cls(**{f.name: np.array([d.constants[f.name] for d in dishes]) for f in fields(cls)})


def dish(rng: np.random.Generator, *, wet: bool, boiling: float, kind: str) -> Dish:
    """A load of this kind for such a cooker, its target some kelvin below boiling."""
    share = LARGER.get(kind, 1.0)
    return _wet(rng, boiling, share) if wet else _loaf(rng, boiling, share)


def _below(boiling: float, target_c: float, room_k: float) -> float:
    """The target in half degrees, at least so far below boiling."""
    return float(min(target_c, np.floor((boiling - room_k) * 2) / 2))


def _loaf(rng: np.random.Generator, boiling: float, share: float) -> Dish:
    draw = rng.uniform
    food = str(rng.choice(BREADS))
    mass = round(draw(0.5, 1.15) * share, 2)
    rho = draw(380, 600) * (1.25 if food == "rye-bread" else 1.0)
    target = _below(boiling, float(rng.choice(BREAD_TARGETS_C)), draw(3.0, 5.0))
    volume = mass / rho
    height = float(np.clip(draw(0.38, 0.62) * volume ** (1 / 3) * 1.35, 0.066, 0.105))
    constants = {
        "radius": float(np.sqrt(volume / np.pi / height)),
        "height": height,
        "bread": 1.0,
        "rho": rho,
        "water": draw(0.62, 0.85),
        "cp_dry": 1550.0,
        "k0": draw(0.22, 0.36),
        "porous": draw(0.03, 0.15),
        "gel": draw(4e3, 1.1e4),
        "stir": 0.0,
        "sets": 0.0,
        "h_bot": draw(7, 18),
        "h_side": draw(4, 9),
        "h_vside": draw(1.5, 3),
        "aw": draw(0.90, 0.97),
        "wetness": draw(0.5, 1.0),
        "side_wet": draw(0.05, 0.25),
        "salt": draw(0.4, 1.2),
        "creep": draw(1e-9, 4e-9),
        "probe_r": draw(0.03, 0.3),
        "probe_z": draw(0.35, 0.62),
        "stem": draw(0.0, 0.025),
        "start_c": round(draw(20, 31), 1),
    }
    return Dish(food, False, mass, target, constants)


def _wet(rng: np.random.Generator, boiling: float, share: float) -> Dish:
    draw = rng.uniform
    food = str(rng.choice(WET_FOODS))
    mass = round(draw(1.1, 2.9) * share, 2)
    target = _below(boiling, float(rng.choice(WET_TARGETS_C[food])), draw(3.5, 6))
    volume = mass / WET_RHO
    radius = float(np.clip(0.56 * volume ** (1 / 3) * draw(1.1, 1.35), 0.075, 0.105))
    constants = {
        "radius": radius,
        "height": volume / np.pi / radius**2,
        "bread": 0.0,
        "rho": WET_RHO,
        "water": 2.0,
        "porous": 0.0,
        "stir": draw(*STIRS[food]),
        "cp_dry": 1800.0 + draw(-400, 300),
        "k0": draw(0.48, 0.6),
        "gel": draw(0, 5e3),
        "sets": SETS.get(food, 0.0),
        "h_bot": draw(90, 220),
        "h_side": draw(70, 160),
        "h_vside": 0.0,
        "aw": draw(0.96, 0.99),
        "wetness": draw(0.25, 1.0) * 0.9,
        "side_wet": 0.0,
        "salt": draw(0.1, 0.8),
        "creep": 0.0,
        "probe_r": draw(0.0, 0.45),
        "probe_z": draw(0.3, 0.7),
        "stem": draw(0.0, 0.02),
        "start_c": round(float(rng.choice([draw(12, 25), draw(20, 48)])), 1),
    }
    return Dish(food, True, mass, target, constants)
