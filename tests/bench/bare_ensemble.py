"""The floor under a forecast: the bare arithmetic of an ensemble, with NumPy and nothing else.

Each member is a pot with a wall and a load of four stages under a light of its own, marched by
Euler's way. Nothing is learned from what was measured, and nothing is explained.

Run, as the floor under a replay: python tests/bench/bare_ensemble.py RECORDING TIMES MEMBERS STEPS
"""

import csv
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEP_S, AIR_C, TARGET_C = 240.0, 20.0, 90.0


def march(members: int, steps: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """When each member reaches the target [s], shape (members,), and all cores [°C], shape (steps,
    members).
    """
    gain, loss, link, take = (
        size * np.exp(0.2 * rng.standard_normal(members)) for size in (9e-5, 3e-4, 1e-4, 2e-4)
    )
    cloud = np.cumsum(0.1 * rng.standard_normal((steps, members)), axis=0)
    light = 900.0 / (1 + np.exp(-1 - cloud))
    pot = wall = np.full(members, AIR_C)
    stages = np.full((4, members), AIR_C)
    reached, cores = np.full(members, np.inf), np.empty((steps, members))
    for i in range(steps):
        outside = np.vstack([pot[None], stages[:-1]])
        inward = take * (pot - stages[0])
        new_pot = pot + STEP_S * (
            gain * light[i] - loss * (pot - AIR_C) - link * (pot - wall) - inward
        )
        wall = wall + STEP_S * link * (pot - wall)
        stages = stages + STEP_S * 1e-3 * (outside - stages)
        pot = new_pot
        cores[i] = stages[-1]
        reached = np.where((cores[i] >= TARGET_C) & np.isinf(reached), STEP_S * i, reached)
    return reached, cores


def main(recording: Path, times: int, members: int, steps: int) -> None:
    """Read a recording and march so many ensembles."""
    with recording.open(newline="") as file:
        rows = [row for row in csv.reader(file) if not row[0].startswith("#")]
    rng = np.random.default_rng(len(rows))
    for _ in range(times):
        march(members, steps, rng)


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))
