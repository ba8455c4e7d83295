"""Food as a cylinder of rings and layers: heat, water and vapour in it, and at its faces.

Rings count from the middle, layers from the bottom: shape (cooks, RINGS, LAYERS). In bread vapour
carries heat through the pores and the crust dries; wet food has currents until it sets.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.dishes import LAYERS, RINGS, Dishes
from bench.mirror_kitchen.oven import LID, POT, STEAM, STEP_S, convective, radiative
from bench.mirror_kitchen.steam import Passed, Wet, transfer
from bench.mirror_kitchen.water import GAS_VAPOUR, evaporation_j_kg, saturation_pa

Floats = NDArray[np.float64]
WATER_J_KG_K = 4180.0
BOILED_J_KG = 2.26e6
MOST_VAPOUR_WMK = 1.2


class Grid:
    """Sizes of the rings and layers: areas [m²], volumes [m³], shapes as named there."""

    def __init__(self, dishes: Dishes) -> None:
        edge = np.arange(RINGS + 1.0)
        self.width = dishes.radius / RINGS
        self.depth = dishes.height / LAYERS
        self.ring = np.pi * (edge[1:] ** 2 - edge[:-1] ** 2) * self.width[:, None] ** 2
        self.volume = (self.ring * self.depth[:, None])[:, :, None] * np.ones(LAYERS)
        inner = 2 * np.pi * edge[1:-1] * self.width[:, None] * self.depth[:, None]
        self.across = inner / self.width[:, None]  # area over distance, ring to ring [m]
        self.along = self.ring / self.depth[:, None]  # layer to layer [m]
        self.side = 2 * np.pi * dishes.radius * self.depth  # of one layer
        self.top = np.pi * dishes.radius**2


@dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """Heat into the food [W]: from pot and steam to bottom and top rings (cooks, RINGS), to the
    layers of the side (cooks, LAYERS), and from the lid to the top.
    """

    bottom: Floats
    side: Floats
    steam_side: Floats
    steam_top: Floats
    lid_top: Floats


class Food:
    """The loads of many cooks. ``loaded`` is 1 for those that are in their pots, shape (cooks,)."""

    def __init__(self, dishes: Dishes, outside_pa: Floats, boiling: Floats) -> None:
        grid = Grid(dishes)
        ones = np.ones_like(grid.volume)
        self.dishes, self.grid, self.outside_pa = dishes, grid, outside_pa
        self.bread = _wide(dishes.bread) > 0
        self.dry_kg = grid.volume * _wide(dishes.rho / (1 + dishes.water))
        self.limit_c = _wide(boiling + dishes.salt)
        # what steps of this length can follow
        finest = 1 / grid.depth**2 + 1 / grid.width**2
        most = 0.35 * dishes.rho * 3600.0 / (2 * STEP_S * finest) - 0.6
        self.stir = np.minimum(dishes.stir, most)
        self.temp = _wide(dishes.start_c) * ones
        self.water = _wide(dishes.water) * ones
        self.cooked = np.zeros_like(boiling)

    def contact(self, temp: Floats, loaded: Floats) -> Contact:
        """Heat from pot, lid and steam at the temperatures of these parts."""
        dishes, grid = self.dishes, self.grid
        pot, lid, steam = temp[POT][:, None], temp[LID][:, None], temp[STEAM][:, None]
        bottom, top, side = self.temp[:, :, 0], self.temp[:, :, -1], self.temp[:, -1, :]
        ring, wall = grid.ring * loaded[:, None], grid.side * loaded
        sees = 0.85 * radiative(temp[LID], top.mean(1))
        return Contact(
            bottom=ring * dishes.h_bot[:, None] * (pot - bottom),
            side=(wall * dishes.h_side)[:, None] * (pot - side),
            steam_side=(wall * dishes.h_vside)[:, None] * (steam - side),
            steam_top=ring * self._from_steam(temp)[:, None] * (steam - top),
            lid_top=ring * sees[:, None] * (lid - top),
        )

    def wet(self, temp: Floats, loaded: Floats) -> Wet:
        """The faces that evaporate; a dry crust holds its water fast."""
        dishes, grid = self.dishes, self.grid
        top, side = self.temp[:, :, -1], self.temp[:, -1, :]
        carries = transfer(self._from_steam(temp), top.mean(1))
        held = np.where(self.bread, np.clip(self.water / 0.25, 0.03, 1), 1.0) * _wide(dishes.aw)
        each = (carries * loaded)[:, None]
        return Wet(
            top=grid.ring * dishes.wetness[:, None] * each,
            top_pa=held[:, :, -1] * saturation_pa(top),
            side=(grid.side * dishes.side_wet)[:, None] * each * np.ones(LAYERS),
            side_pa=held[:, -1, :] * saturation_pa(side),
            carries=carries,
            loaf=dishes.bread > 0,
        )

    def take(self, contact: Contact, passed: Passed, lid_c: Floats, loaded: Floats) -> Floats:
        """Warm and dry the food for one step. Returns the steam that it boils off [kg/s]."""
        top, side = self.temp[:, :, -1], self.temp[:, -1, :]
        heat = self._conducted() * _wide(loaded)
        heat[:, :, 0] += contact.bottom
        heat[:, :, -1] += contact.steam_top + contact.lid_top - passed.top * evaporation_j_kg(top)
        heat[:, -1, :] += contact.side + contact.steam_side - passed.side * evaporation_j_kg(side)
        drops = passed.drops * WATER_J_KG_K * loaded / self.grid.top
        heat[:, :, -1] += drops[:, None] * (lid_c[:, None] - top) * self.grid.ring
        capacity = self.dry_kg * (_wide(self.dishes.cp_dry) + WATER_J_KG_K * self.water)
        # starch swells near 70 °C and takes heat for it, spread as a bell of 7 K
        bell = np.exp(-0.5 * ((self.temp - 70.0) / 7.0) ** 2) / (7 * np.sqrt(2 * np.pi))
        swelling = self.grid.volume * _wide(self.dishes.rho * self.dishes.gel) * bell
        self.temp = self.temp + STEP_S * heat / (capacity + swelling)
        boiled_kg = self._boil(capacity, loaded)
        self._dry(boiled_kg, passed, loaded)
        done = loaded * np.clip((self.temp.mean((1, 2)) - 66) / 15, 0, 1)
        self.cooked = np.minimum(1.0, self.cooked + STEP_S * done / 1500.0)
        return np.asarray(boiled_kg.sum((1, 2)) / STEP_S)

    def at_probe(self) -> Floats:
        """Temperature at the tip of the probe [°C], between the nearest rings and layers."""
        x = np.clip(self.dishes.probe_r * RINGS - 0.5, 0, RINGS - 1.001)
        z = np.clip(self.dishes.probe_z * LAYERS - 0.5, 0, LAYERS - 1.001)
        i, j = x.astype(int), z.astype(int)
        a, b, n = x - i, z - j, np.arange(len(x))
        low = (1 - a) * self.temp[n, i, j] + a * self.temp[n, i + 1, j]
        high = (1 - a) * self.temp[n, i, j + 1] + a * self.temp[n, i + 1, j + 1]
        return np.asarray((1 - b) * low + b * high)

    def _from_steam(self, temp: Floats) -> Floats:
        return convective(temp[STEAM] - self.temp[:, :, -1].mean(1), 1.5, 1.5)

    def _conducted(self) -> Floats:
        """Heat that flows in from the neighbours [W]."""
        k, t = np.where(self.bread, self._bread_wmk(), self._wet_wmk()), self.temp
        radial = (
            0.5 * (k[:, 1:] + k[:, :-1]) * self.grid.across[:, :, None] * (t[:, 1:] - t[:, :-1])
        )
        upright = 0.5 * (k[:, :, 1:] + k[:, :, :-1]) * self.grid.along[:, :, None]
        upright = upright * (t[:, :, 1:] - t[:, :, :-1])
        heat = np.zeros_like(t)
        heat[:, :-1] += radial
        heat[:, 1:] -= radial
        heat[:, :, :-1] += upright
        heat[:, :, 1:] -= upright
        return heat

    def _bread_wmk(self) -> Floats:
        """Conductivity of crumb: what is dry, and vapour that evaporates on the warm side of a pore
        and condenses on the cold one. Diffusivity of vapour in air from memory.
        """
        kelvin, share = self.temp + 273.15, np.clip(self.water / 0.6, 0.05, 1.2)
        pressure = saturation_pa(self.temp)
        slope = pressure * 17.5 * 241.0 / (241.0 + np.minimum(self.temp, 140.0)) ** 2
        outside = _wide(self.outside_pa)
        spread = 2.6e-5 * (kelvin / 298.0) ** 1.8 * 1e5 / outside
        stefan = np.clip(1 - pressure / outside, 0.25, 1)
        vapour = _wide(self.dishes.porous) * spread * 2.3e6 * slope / (GAS_VAPOUR * kelvin) / stefan
        dry = _wide(self.dishes.k0) * (0.25 + 0.75 * share)
        return np.asarray(dry + np.minimum(vapour, MOST_VAPOUR_WMK) * np.minimum(share, 1.0))

    def _wet_wmk(self) -> Floats:
        """Conductivity of wet food with its currents: fewer once it has set, and in layers that are
        heated from above.
        """
        warmer_below = self.temp[:, :, 0].mean(1) - self.temp[:, :, -1].mean(1) > 0.3
        stir = self.stir * (1 - self.dishes.sets * self.cooked) * np.where(warmer_below, 1.0, 0.45)
        still = self.dishes.k0 * (1 + 0.0012 * (self.temp.mean((1, 2)) - 20))
        return _wide(still + stir)

    def _boil(self, capacity: Floats, loaded: Floats) -> Floats:
        """Turn what is above boiling into steam [kg]; a dry crust may be hotter."""
        moist = ~self.bread | (self.water > 0.12)
        over = np.where(moist, np.maximum(self.temp - self.limit_c, 0.0), 0.0) * _wide(loaded)
        self.temp = self.temp - over
        return np.asarray(over * capacity / BOILED_J_KG)

    def _dry(self, boiled_kg: Floats, passed: Passed, loaded: Floats) -> None:
        """Bread loses its water and it creeps on from layer to layer; wet food has plenty."""
        lost = boiled_kg.copy()
        lost[:, :, -1] += passed.top * STEP_S
        lost[:, -1, :] += passed.side * STEP_S
        water = np.clip(self.water - lost / self.dry_kg, 0.02, 1.5)
        water = np.where(self.bread, water, self.water)
        creep = (self.dishes.creep * loaded * STEP_S)[:, None] * self.grid.along
        moved = creep[:, :, None] * (water[:, :, 1:] - water[:, :, :-1])
        water[:, :, :-1] += moved / self.grid.volume[:, :, :-1]
        water[:, :, 1:] -= moved / self.grid.volume[:, :, 1:]
        self.water = water


def _wide(values: Floats) -> Floats:
    """One number a cook, to go with (cooks, RINGS, LAYERS)."""
    return values[:, None, None]
