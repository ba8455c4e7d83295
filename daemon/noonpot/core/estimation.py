"""How well constants explain what was measured: of the food, and of the cooker.

The food is driven by the *measured* pot, which needs no sky. The cooker is judged block by block of
ten minutes; where no sensor saw the sky, every clear-sky index is tried and the likely ones count.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, light, load
from noonpot.core.trace import BIN_S, Grid, edges

Floats = NDArray[np.float64]

BLOCK = 5  # bins: ten minutes
BLOCK_S = BLOCK * BIN_S
INDEX = np.array(
    [
        *(0.12, 0.20, 0.30, 0.40, 0.50, 0.60, 0.68, 0.75, 0.80, 0.84),
        *(0.88, 0.91, 0.94, 0.96, 0.98, 1.00, 1.02, 1.04, 1.07, 1.12),
    ]
)
CLEAR_SHARE, CLEAR_INDEX = 0.5, 1.03
READING_WEIGHT = 0.12
"""Neighbouring bins miss alike: each counts for so much of an independent reading."""
RECENT_S = 2700.0
SETTLING_S = 240.0
"""A core probe needs so long to take the temperature of the food."""


@dataclass(frozen=True, slots=True, eq=False)
class FoodCase:
    """What is known of one load: bins since loading, where the core was read, and how it began."""

    pot_c: Floats
    ambient_c: Floats
    core_c: Floats
    start_c: float
    boiling_c: float
    target_c: float
    wet: bool | None


def run_food(case: FoodCase, values: Floats, coarse: int = 1) -> tuple[Floats, Floats, Floats]:
    """Drive foods (n, 6) through the measured pot, ``coarse`` bins in one step.

    Returns the stages now, shape (4, n), the core at the end of every step, (n, m), and the heat
    taken in every step over the load's heat capacity [K], (m, n). Steps are counted back from the
    last bin; a rest at the start is dropped.
    """
    food = load.FoodConstants.of(values)
    stages = load.start(np.full(len(values), case.start_c))
    pot, ambient = (light.block_means(x, coarse) for x in (case.pot_c, case.ambient_c))
    surround = ambient[:, None] + (1 + food.drive) * (pot - ambient)[:, None]
    cores, flows = np.empty_like(surround), np.empty_like(surround)
    for i in range(len(pot)):
        stages, flows[i] = load.step(stages, food, surround[i], case.boiling_c, coarse * BIN_S)
        cores[i] = stages[-1]
    return stages, cores.T, flows


def food_misses(case: FoodCase, *, even: bool = False) -> Callable[[Floats], Floats]:
    """What foods (n, 6) miss of the core so far, in standard deviations, shape (n, m); late
    readings weigh more, unless ``even``.
    """
    coarse = min(max(len(case.core_c) // 50, 1), 3)
    measured = light.block_means(np.nan_to_num(case.core_c), coarse)
    filled = light.block_means(np.isfinite(case.core_c).astype(float), coarse)
    measured = measured / np.maximum(filled, 1e-9)
    age = (len(measured) - 1 - np.arange(len(measured))) * coarse * BIN_S
    settled = np.arange(len(measured)) * coarse * BIN_S >= SETTLING_S
    # beyond done the core creeps along under boiling: that would teach little, and that wrongly
    over = np.maximum.accumulate((filled > 0) & (measured > case.target_c + 1.0))
    good = (filled > 0) & settled & ~over
    sd = 0.6 + 0.02 * np.abs(measured - case.start_c)
    own = max(READING_WEIGHT * coarse, min(0.5, 1.5 / max(int(good.sum()), 1)))
    weight = own * (1.0 if even else 0.25 + 0.75 * np.exp(-age / RECENT_S))
    root = np.sqrt(np.where(good, weight, 0.0)) / sd

    def misses(values: Floats) -> Floats:
        _, cores, _ = run_food(case, values, coarse)
        return (middles(cores, case.start_c) - measured) * root

    return misses


def middles(cores: Floats, start_c: float) -> Floats:
    """Cores in the middles of steps, from those at their ends, shape (n, m) in and out."""
    before = np.concatenate([np.full((len(cores), 1), start_c), cores[:, :-1]], axis=1)
    return (before + cores) / 2


@dataclass(frozen=True, slots=True, eq=False)
class CookerCase:
    """What the cooker has shown, in m blocks: shape (m,).

    ``rise_k`` pot over the block, ``pot_c`` and ``ambient_c`` means, ``sky`` and ``misaim_deg``
    means,
    ``index`` the measured clear-sky index or NaN, ``flow_w`` into the load, ``use`` 0 for blocks
    that a lid or a load spoilt.
    """

    rise_k: Floats
    pot_c: Floats
    ambient_c: Floats
    sky: light.ClearSky
    misaim_deg: Floats
    index: Floats
    flow_w: Floats
    use: Floats

    @classmethod
    def of(
        cls, grid: Grid, sky: light.ClearSky, misaim_deg: Floats, flow_w: Floats, use: Floats
    ) -> "CookerCase":
        """From arrays on the grid, shape (bins,)."""
        at_edges = edges(grid.pot_c)
        count = len(at_edges) // BLOCK
        ends = at_edges[len(at_edges) - 1 - BLOCK * np.arange(count)][::-1]
        first = 2 * grid.pot_c[0] - at_edges[0] if len(at_edges) == BLOCK * count else 0.0
        before = len(at_edges) - 1 - BLOCK * count
        begin = at_edges[before] if before >= 0 else first
        good = light.block_means(use * grid.pot_read, BLOCK) > 0.99
        return cls(
            rise_k=np.diff(ends, prepend=begin),
            pot_c=light.block_means(grid.pot_c, BLOCK),
            ambient_c=light.block_means(grid.ambient_c, BLOCK),
            sky=sky.blocks(BLOCK),
            misaim_deg=light.block_means(misaim_deg, BLOCK),
            index=light.block_means(light.index_of(grid.ghi, sky), BLOCK),
            flow_w=light.block_means(flow_w, BLOCK),
            use=good.astype(float),
        )

    def rest(self, kettle: cooker.Cooker) -> Floats:
        """What light must have given [K] over each block, shape (n, m)."""
        wall = cooker.wall_behind(self.pot_c, kettle.wall_time, BLOCK_S)
        excess = self.pot_c - self.ambient_c
        one = (slice(None), None)
        rate = kettle.loss[one] * (1 + kettle.curve[one] * np.clip(excess, 0, 200) / 100) * excess
        rate = rate + kettle.wall[one] * (self.pot_c - wall) + self.flow_w / kettle.capacity[one]
        return np.asarray(self.rise_k + BLOCK_S * rate)

    def given(self, kettle: cooker.Cooker, index: Floats) -> Floats:
        """What light of this clear-sky index, shape (..., m), gives [K], shape (..., n, m)."""
        beam, diffuse = light.split(index, self.sky)
        gain = light.aim_gain(self.misaim_deg, kettle.acceptance[:, None])
        useful = beam[..., None, :] * gain + diffuse[..., None, :] * kettle.diffuse[:, None]
        return np.asarray(BLOCK_S * kettle.gain[:, None] * useful)

    def given_each(self, kettle: cooker.Cooker, index: Floats) -> Floats:
        """As ``given``, with an index of its own for every member, shape (n, m) in and out."""
        useful = light.on_aperture(
            index, self.sky, self.misaim_deg, kettle.acceptance[:, None], kettle.diffuse[:, None]
        )
        return np.asarray(BLOCK_S * kettle.gain[:, None] * useful)

    def doubt(self) -> Floats:
        """Standard deviation of what a good balance misses [K], shape (m,)."""
        return np.asarray(
            0.4 + 0.06 * (np.abs(self.rise_k) + 0.25 * np.maximum(self.pot_c - self.ambient_c, 0))
        )


def index_prior() -> Floats:
    """Weights of ``INDEX``: half for clear skies, half spread over the rest; sums to 1."""
    width = np.gradient(INDEX)
    clear = np.exp(-0.5 * ((INDEX - CLEAR_INDEX) / 0.045) ** 2) * width
    spread = np.where(INDEX < 1.06, 1.0, 0.2) * width
    return np.asarray(CLEAR_SHARE * clear / clear.sum() + (1 - CLEAR_SHARE) * spread / spread.sum())


def cooker_misses(case: CookerCase) -> Callable[[Floats], Floats]:
    """What cookers (n, 8) miss of the heat balance, in standard deviations, shape (n, m).

    Blocks whose sky was not seen miss as much as the likeliest skies cannot explain.
    """
    sd = case.doubt()
    seen = np.isfinite(case.index)
    weights = index_prior()
    root = np.sqrt(0.5 * case.use)

    def misses(values: Floats) -> Floats:
        kettle = cooker.Cooker.of(values)
        rest = case.rest(kettle)
        miss = (rest - case.given(kettle, np.where(seen, case.index, CLEAR_INDEX))) / sd
        if not seen.all():
            tried = (rest - case.given(kettle, _tried(case))) / sd
            score = np.exp(-0.5 * np.minimum(tried**2, 200.0))
            mixed = np.log(np.tensordot(weights, score, axes=1) + 1e-30)
            hidden = np.sign(miss) * np.sqrt(2 * np.maximum(np.log(weights.max()) - mixed, 0.0))
            miss = np.where(seen, miss, hidden)
        return miss * root

    return misses


def inferred_index(case: CookerCase, values: Floats) -> Floats:
    """The clear-sky index of every block as cookers (n, 8) understand it, shape (n, m).

    Measured where it was; NaN in the dark and in spoilt blocks.
    """
    kettle = cooker.Cooker.of(values)
    miss = (case.rest(kettle) - case.given(kettle, _tried(case))) / (case.doubt() + 0.3)
    square = miss**2
    score = np.exp(-0.5 * (square - square.min(axis=0))) * np.gradient(INDEX)[:, None, None]
    guess = np.tensordot(INDEX, score, axes=1) / score.sum(axis=0)
    told = (case.use > 0) & (case.sky.ghi * case.sky.free > 60.0)
    guess = np.where(told, guess, np.nan)
    return np.where(np.isfinite(case.index), case.index, guess)


def _tried(case: CookerCase) -> Floats:
    return INDEX[:, None] * np.ones(len(case.pot_c))
