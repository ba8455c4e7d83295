"""The parts of a cooker as a network of heat: what flows from part to part in one moment.

Temperatures have shape (places, cooks) [°C], in the order of the numbers below; air and sky
outside are given. What leaves one place enters another, so no heat is lost on the way.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.mirror_kitchen.cookers import Cookers

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
OUTER, INNER, AIR, TRAY, SHELL, POT, LID, STEAM, OUTSIDE, SKY = range(10)
"""Outer and inner glass, air in the box, tray, insulation, pot, its lid, the air in it; outside."""
MASSES = 8
STEP_S = 5.0
SIGMA = 5.670e-8
GLASS_EMITS = 0.85
OPEN_VIEW = 0.15
"""What is left of the exchange with the glass when it is swung away (our choice)."""


def radiative(a_c: Floats, b_c: Floats) -> Floats:
    """Exchange between black faces of nearly these temperatures [W/(m² K)]: Stefan and Boltzmann's
    law, divided by the difference.
    """
    a, b = a_c + 273.15, b_c + 273.15
    return np.asarray(SIGMA * (a * a + b * b) * (a + b))


def convective(difference_k: Floats, factor: float = 1.5, least: float = 0.6) -> Floats:
    """Natural convection [W/(m² K)]: between the laws of slow and of turbulent air, whose powers
    are 1/4 and 1/3 (from memory).
    """
    return np.maximum(factor * np.abs(difference_k) ** 0.28, least)


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """A way for heat between two places, conductance shape (cooks,) [W/K]."""

    one: int
    other: int
    wk: Floats


def links(cooker: Cookers, temp: Floats, wind_ms: Floats, opened: Flags) -> list[Link]:
    """All ways for heat at these temperatures; ``wind_ms`` is that of the station."""
    shut = np.where(opened, OPEN_VIEW, 1.0)
    return [
        *_glass(cooker, temp, wind_ms, shut),
        *_air(cooker, temp, wind_ms, shut, opened),
        *_pot(cooker, temp, opened),
    ]


def flows(ways: list[Link], temp: Floats) -> Floats:
    """Heat that each part takes up [W], shape (MASSES, cooks)."""
    taken = np.zeros_like(temp)
    for way in ways:
        heat = way.wk * (temp[way.other] - temp[way.one])
        taken[way.one] += heat
        taken[way.other] -= heat
    return taken[:MASSES]


def warm(cooker: Cookers, temp: Floats, heat: Floats) -> None:
    """Put ``heat`` [W], shape (MASSES, cooks), into the parts for one step. Where there is a single
    sheet of glass, the outer one takes what comes to the inner one.
    """
    single = cooker.single > 0
    heat[OUTER] += np.where(single, heat[INNER], 0.0)
    capacity = np.array([
        cooker.outer_jk, cooker.inner_jk, cooker.air_jk, cooker.tray_jk,
        cooker.shell_jk, cooker.pot_jk, cooker.lid_jk, cooker.steam_jk,
    ])  # fmt: skip
    temp[:MASSES] += STEP_S * heat / capacity
    temp[INNER] = np.where(single, temp[OUTER], temp[INNER])


def _glass(cooker: Cookers, temp: Floats, wind_ms: Floats, shut: Floats) -> list[Link]:
    outer, inner = temp[OUTER], temp[INNER]
    # wind along a plate: Watmuff and others, 1977 (from memory)
    wind = 2.8 + 3.0 * cooker.shelter * wind_ms
    black = cooker.glass_m2 * GLASS_EMITS * shut
    ground = black * radiative(outer, temp[OUTSIDE]) * (1 - cooker.sees_sky)
    gap = np.maximum(1.1 * np.abs(inner - outer) ** 0.33, 1.7) + 0.82 * radiative(inner, outer)
    pot = cooker.pot_sees_glass * cooker.pot_m2 * cooker.pot_emits * radiative(temp[POT], inner)
    lid = 0.9 * cooker.lid_m2 * cooker.pot_emits * radiative(temp[LID], inner)
    tray = cooker.tray_sees_glass * cooker.tray_m2 * cooker.tray_emits
    return [
        Link(OUTER, OUTSIDE, cooker.glass_m2 * wind + ground),
        Link(OUTER, SKY, black * radiative(outer, temp[SKY]) * cooker.sees_sky),
        Link(OUTER, INNER, np.where(cooker.single > 0, 0.0, cooker.glass_m2 * gap)),
        Link(INNER, POT, pot * shut),
        Link(INNER, LID, lid * shut),
        Link(INNER, TRAY, tray * radiative(temp[TRAY], inner) * shut),
    ]


def _air(cooker: Cookers, temp: Floats, wind_ms: Floats, shut: Floats, opened: Flags) -> list[Link]:
    air, gust = temp[AIR], cooker.shelter * wind_ms
    leak = cooker.leak_wk * (1 + 0.35 * gust) + np.where(opened, cooker.gape_wk, 0.0)
    return [
        Link(AIR, INNER, cooker.glass_m2 * convective(air - temp[INNER], 1.6) * shut),
        Link(AIR, TRAY, cooker.tray_m2 * convective(air - temp[TRAY], 1.3)),
        Link(AIR, POT, cooker.pot_m2 * convective(air - temp[POT], 1.6)),
        Link(AIR, LID, cooker.lid_m2 * convective(air - temp[LID], 1.5)),
        Link(AIR, OUTSIDE, leak),
        Link(TRAY, SHELL, cooker.tray_shell_wk),
        Link(SHELL, OUTSIDE, cooker.shell_out_wk * (1 + 0.15 * gust)),
    ]


def _pot(cooker: Cookers, temp: Floats, opened: Flags) -> list[Link]:
    pot, lid, steam = temp[POT], temp[LID], temp[STEAM]
    below = (1 - cooker.pot_sees_glass) * cooker.pot_m2 * cooker.tray_emits
    bared = np.where(opened, (cooker.pot_m2 + cooker.lid_m2) * 4.0, 0.0)
    return [
        Link(POT, TRAY, cooker.stand_wk + below * radiative(pot, temp[TRAY])),
        Link(POT, LID, cooker.rim_wk),
        Link(POT, STEAM, cooker.pot_steam_m2 * convective(pot - steam, 1.0, 1.0)),
        Link(LID, STEAM, cooker.lid_steam_m2 * convective(lid - steam, 1.0, 1.0)),
        Link(POT, OUTSIDE, bared),
    ]
