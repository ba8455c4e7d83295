"""Vapour: from the food to the lid, past the lid into the box, from there to the glass.

Shapes are (cooks,), of what evaporates (cooks, rings) on the top and (cooks, layers) on the side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.cookers import Cookers
from bench.mirror_kitchen.oven import AIR, INNER, LID, OUTSIDE, STEAM, STEP_S
from bench.mirror_kitchen.water import GAS_VAPOUR, evaporation_j_kg, saturation_pa

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
DEW_J_KG = 2.4e6
STEAM_J_KG_K = 1900.0
"""Heat capacity of steam."""


@dataclass(frozen=True, slots=True, eq=False)
class Wet:
    """Faces of the food that can evaporate: conductance for vapour [kg/(s Pa)] and pressure of
    vapour [Pa] of each ring of the top and of each layer of the side; ``carries`` is what the air
    in the pot carries off a face [kg/(s m² Pa)], ``loaf`` whether this is bread.
    """

    top: Floats
    top_pa: Floats
    side: Floats
    side_pa: Floats
    carries: Floats
    loaf: Flags


@dataclass(slots=True)
class Vapour:
    """Water on its way: pressure in the pot [Pa], water under the lid [kg], dew [kg/m² of glass],
    steam boiled off in the last step [kg/s].
    """

    pot_pa: Floats
    lid_kg: Floats
    dew_kg_m2: Floats
    boiled_kg_s: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Passed:
    """What one step moved [kg/s]: off the top and the side of the food, back as drops; and the
    heat it brought to lid, inner glass and air of the box [W].
    """

    top: Floats
    side: Floats
    drops: Floats
    lid_w: Floats
    glass_w: Floats
    box_w: Floats


def transfer(h_wm2k: Floats, temp_c: Floats) -> Floats:
    """Vapour that air carries off a face [kg/(s m² Pa)] where it carries so much heat: Lewis, for
    air of 1100 J/(m³ K) (from memory).
    """
    return np.asarray(0.9 * h_wm2k / 1100.0 / (GAS_VAPOUR * (temp_c + 273.15)))


def pass_on(
    vapour: Vapour, cooker: Cookers, wet: Wet, temp: Floats, outside_pa: Floats, opened: Flags
) -> Passed:
    """Move vapour for one step, pots and boxes being quick to find their balance."""
    damp_pa = 0.5 * saturation_pa(temp[OUTSIDE])
    lid_pa = saturation_pa(temp[LID])
    catches = (vapour.pot_pa > lid_pa) | (vapour.lid_kg > 1e-6)
    to_lid = np.where(catches, cooker.lid_m2 * wet.carries * 1.2, 0.0)
    # vapour that leaves drags more along, the nearer it is to boiling: Stefan's flow
    stefan = np.maximum(1 - vapour.pot_pa / outside_pa, 0.04)
    out = cooker.vent_m3s * np.where(opened, 6.0, 1.0) / stefan
    out = out / (GAS_VAPOUR * (temp[STEAM] + 273.15))
    # pressure at which as much comes as goes
    comes = (wet.top * wet.top_pa).sum(1) + (wet.side * wet.side_pa).sum(1)
    comes = comes + to_lid * lid_pa + out * damp_pa + vapour.boiled_kg_s
    goes = wet.top.sum(1) + wet.side.sum(1) + to_lid + out
    pot_pa = np.minimum(comes / goes, outside_pa * 1.005)
    vapour.pot_pa = pot_pa
    top = wet.top * (wet.top_pa - pot_pa[:, None])
    side = wet.side * (wet.side_pa - pot_pa[:, None])
    made = top.sum(1) + side.sum(1) + vapour.boiled_kg_s
    lid = np.maximum(to_lid * (pot_pa - lid_pa), -vapour.lid_kg / STEP_S)
    lid = np.minimum(lid, np.maximum(made, 0.0) + 1e-6)
    vented = np.maximum(made - lid, 0.0) * cooker.to_box
    drops = _drip(vapour, lid, wet.loaf)
    dew = _dew(vapour, cooker, vented, temp, damp_pa)
    box_w = vented * STEAM_J_KG_K * (temp[STEAM] - temp[AIR])
    lid_w = lid * evaporation_j_kg(temp[LID])
    return Passed(top, side, drops, lid_w, dew * DEW_J_KG, box_w)


def _drip(vapour: Vapour, lid_kg_s: Floats, loaf: Flags) -> Floats:
    """Water that falls from the lid [kg/s]: over bread only what the lid cannot hold."""
    held = vapour.lid_kg + lid_kg_s * STEP_S
    drops = np.where(loaf, np.maximum(held - 0.02, 0.0) / 60, held / 240.0)
    vapour.lid_kg = np.maximum(held - drops * STEP_S, 0.0)
    return drops


def _dew(vapour: Vapour, cooker: Cookers, vented: Floats, temp: Floats, damp_pa: Floats) -> Floats:
    """Vapour that becomes dew on the inner glass [kg/s], negative when dew dries."""
    fresh = vented * GAS_VAPOUR * (temp[AIR] + 273.15) / cooker.box_air_m3s
    lack = damp_pa + fresh - saturation_pa(temp[INNER])
    dew = np.where((lack > 0) | (vapour.dew_kg_m2 > 0), cooker.glass_m2 * 2.2e-8 * lack, 0.0)
    dew = np.minimum(dew, vented + 1e-7)
    dew = np.maximum(dew, -vapour.dew_kg_m2 * cooker.glass_m2 / STEP_S)
    vapour.dew_kg_m2 = np.maximum(vapour.dew_kg_m2 + dew / cooker.glass_m2 * STEP_S, 0.0)
    return dew


def still(dew_kg_m2: Floats) -> Vapour:
    """The vapour of pots that are cold and empty, under glass with so much dew."""
    nothing = np.zeros_like(dew_kg_m2)
    return Vapour(np.full_like(dew_kg_m2, 1000.0), nothing, dew_kg_m2, nothing)
