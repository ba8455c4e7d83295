"""The heat balance of a cooker: light in, losses out, a slow wall, and the load.

Two masses. The pot, which the probe sees, is quick; the wall stands for tray, bricks and iron that
warm up behind it. Losses grow a little with their own size, as radiation and free convection do.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NAMES = ("rise", "loss", "wall", "wall_time", "capacity", "acceptance", "diffuse", "curve")


@dataclass(frozen=True, slots=True, eq=False)
class Cooker:
    """Constants of n cookers, each of shape (n,).

    ``gain`` is the heating by light [K/s per W/m² on the aperture]; ``loss`` the cooling rate to
    the air [1/s], which grows by the share ``curve`` for every 100 K of excess; ``wall`` the
    exchange rate with the wall [1/s], ``wall_time`` the time constant of the wall [s]; ``capacity``
    the heat capacity of the quick part [J/K]; ``acceptance`` the misaim of half gain [degrees];
    ``diffuse`` the share of diffuse light that is caught [-].
    """

    gain: Floats
    loss: Floats
    wall: Floats
    wall_time: Floats
    capacity: Floats
    acceptance: Floats
    diffuse: Floats
    curve: Floats

    @classmethod
    def of(cls, values: Floats) -> "Cooker":
        """From rows in the order of ``NAMES``: all logarithms but the last; ``rise`` is gain /
        loss, the stagnation excess per light [K per W/m²]. Shape (n, 8).
        """
        rise, loss, wall, wall_time, capacity, acceptance, diffuse = np.exp(values[:, :7]).T
        curve = np.clip(values[:, 7], 0.0, 1.0)
        return cls(rise * loss, loss, wall, wall_time, capacity, acceptance, diffuse, curve)

    def rows(self, members: NDArray[np.int_]) -> "Cooker":
        """Some of the members."""
        return Cooker(*(getattr(self, field.name)[members] for field in fields(self)))


def prior(aperture_m2: float, acceptance_deg: float) -> tuple[Floats, Floats]:
    """Mean and standard deviation of the constants' row for a cooker nobody has watched yet.

    Stagnation at 900 W/m² lies 70 to 150 K above the air; the box alone holds 3 to 15 kJ/K, of
    which the probe sees the quick part at first (common practice, no source).
    """
    capacity = 4000.0 * (aperture_m2 / 0.25) ** 0.5
    mean = np.log([0.15, 1 / 1800, 1 / 2400, 3000.0, capacity, acceptance_deg, 0.6, 1.0])
    mean[7] = 0.25
    return mean, np.array([0.35, 0.6, 0.8, 0.6, 0.6, 0.3, 0.35, 0.15])


def loss_rate(cooker: Cooker, excess_k: Floats) -> Floats:
    """Cooling rate at an excess over the air [1/s]; broadcasts over (n,)."""
    return cooker.loss * (1 + cooker.curve * np.clip(excess_k, 0.0, 200.0) / 100.0)


def step(  # noqa: PLR0913, PLR0917  a balance has many terms
    cooker: Cooker,
    pot_c: Floats,
    wall_c: Floats,
    light: Floats,
    ambient_c: float,
    given_k_per_s: Floats,
    hold_per_s: Floats,
    step_s: float,
) -> tuple[Floats, Floats]:
    """Pot and wall one step later [°C], shape (n,).

    Parameters
    ----------
    light
        On the aperture. [W/m²]
    given_k_per_s
        What else warms the pot; what flows into the load counts below zero. [K/s]
    hold_per_s
        How much more flows into the load for every kelvin that the pot rises in this step. [1/s]

    Exact for constant surroundings within the step, and the load holds the pot back as it changes:
    so a long step cannot swing, however heavy the load.

    >>> one = np.ones(1)
    >>> box = Cooker(2e-5 * one, 4e-4 * one, 0 * one, 1e3 * one, 5e3 * one, 30 * one, one, 0 * one)
    >>> pot, _ = step(box, 20 * one, 20 * one, 900 * one, 20.0, 0 * one, 0 * one, 1e6)
    >>> round(float(pot[0]), 1)  # stagnation: 20 + 2e-5 x 900 / 4e-4
    65.0
    """
    pot, wall, _ = step_with_mean(
        cooker, pot_c, wall_c, light, ambient_c, given_k_per_s, hold_per_s, step_s
    )
    return pot, wall


def step_with_mean(  # noqa: PLR0913, PLR0917
    cooker: Cooker,
    pot_c: Floats,
    wall_c: Floats,
    light: Floats,
    ambient_c: float,
    given_k_per_s: Floats,
    hold_per_s: Floats,
    step_s: float,
) -> tuple[Floats, Floats, Floats]:
    """The same, and the mean of the pot over the step [°C]: what the load felt."""
    loss = loss_rate(cooker, pot_c - ambient_c)
    total = loss + cooker.wall + hold_per_s
    source = cooker.gain * light + loss * ambient_c + cooker.wall * wall_c
    source = source + hold_per_s * pot_c + given_k_per_s
    end_c = source / total
    left = np.exp(-total * step_s)
    new_pot = end_c + (pot_c - end_c) * left
    mean_pot = end_c + (pot_c - end_c) * (1 - left) / (total * step_s)
    new_wall = mean_pot + (wall_c - mean_pot) * np.exp(-step_s / cooker.wall_time)
    return new_pot, new_wall, mean_pot


def wall_behind(pot_c: Floats, wall_time: Floats, step_s: float) -> Floats:
    """Wall temperature after each of m steps behind a measured pot, shape (n, m).

    ``pot_c`` has shape (m,), ``wall_time`` (n,). The wall starts as warm as the pot.
    """
    follow = 1 - np.exp(-step_s / wall_time)
    walls = np.empty((len(pot_c), len(wall_time)))
    wall = np.full_like(wall_time, pot_c[0] if len(pot_c) else 0.0)
    for i, pot in enumerate(pot_c):
        wall = wall + follow * (pot - wall)
        walls[i] = wall
    return walls.T


def carried_on(
    cooker: Cooker,
    pot_c: Floats,
    read: NDArray[np.bool_],
    light: Floats,
    ambient_c: Floats,
    burden: Floats,
    step_s: float,
) -> Floats:
    """The pot of one cooker (n = 1) in m bins, reckoned where it was not ``read`` [°C], shape (m,).

    ``burden`` is the heat capacity in each bin over that of the cooker alone: a full pot is slower.
    """
    result = pot_c.copy()
    pot = wall = np.array([pot_c[0]])
    for i in range(len(pot_c)):
        if read[i]:
            pot, wall = np.array([pot_c[i]]), wall + (pot_c[i] - wall) * step_s / cooker.wall_time
            continue
        slow = step_s / float(burden[i])
        no = np.zeros(1)
        pot, wall = step(cooker, pot, wall, light[i : i + 1], float(ambient_c[i]), no, no, slow)
        result[i] = pot[0]
    return result
