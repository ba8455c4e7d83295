"""The readings of a cook so far, brought onto an even grid that ends now.

Bins are counted back from *now*, so that no bin ever holds a reading that is later than its
forecast.
"""

from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import NDArray

from noonpot.core.readings import Role

Floats = NDArray[np.float64]

BIN_S = 120.0
PIECE_S = 10.0
"""Readings that come faster than this are kept as means over so long."""
LONGEST_S = 12 * 3600.0
POSSIBLE = {
    Role.POT: (-60.0, 500.0),
    Role.CORE: (-60.0, 300.0),
    Role.AMBIENT: (-60.0, 70.0),
    Role.IRRADIANCE: (-30.0, 2000.0),
}
"""Readings outside [°C, W/m²] are dropped: colder or hotter than any garden or cooker (our choice).
"""
AMBIENT_C = 20.0
"""Taken for the air where neither a probe nor a cold pot tells (a mild day; our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Means of bins of ``BIN_S`` seconds, all of shape (n,), the last one ending at ``now_s``.

    ``pot_c`` and ``ambient_c`` have their gaps closed; ``core_c`` and ``ghi`` [W/m²] are NaN where
    nothing was read. ``pot_read`` is False in bins in which the pot was not read, nor near them.
    """

    now_s: float
    times_s: Floats
    pot_c: Floats
    core_c: Floats
    ambient_c: Floats
    ghi: Floats
    pot_read: NDArray[np.bool_]


@dataclass(slots=True)
class Trace:
    """Readings by role, in time order; grows by ``add``. Unix time [s], °C, W/m².

    Readings that come fast are kept as means of a few seconds, each at the time of its last one.
    """

    times: dict[Role, list[float]] = field(default_factory=lambda: {r: [] for r in Role})
    values: dict[Role, list[float]] = field(default_factory=lambda: {r: [] for r in Role})
    _piece: dict[Role, tuple[float, int]] = field(default_factory=dict)

    def add(self, role: Role, at_s: float, value: float | None, *, lone: bool = False) -> None:
        """Remember a reading; None, no number, and what no cooker ever showed are dropped. A
        ``lone`` one, taken by hand, is never mixed with its neighbours.
        """
        lowest, highest = POSSIBLE[role]
        if value is None or not lowest <= value <= highest:
            return
        start_s, count = self._piece.get(role, (-inf, 0))
        if lone or not 0 <= at_s - start_s < PIECE_S:
            start_s, count = (-inf if lone else at_s), 0
            self.times[role].append(at_s)
            self.values[role].append(value)
        else:
            self.times[role][-1] = at_s
            self.values[role][-1] += (value - self.values[role][-1]) / (count + 1)
        self._piece[role] = (start_s, count + 1)

    def span(self) -> tuple[float, float] | None:
        """First and last time of any reading, None without one."""
        known = [t for t in self.times.values() if t]
        return (min(t[0] for t in known), max(t[-1] for t in known)) if known else None

    def between(self, role: Role, since_s: float, now_s: float) -> tuple[Floats, Floats]:
        """Times and values of one role with since <= time <= now."""
        times, values = np.array(self.times[role]), np.array(self.values[role])
        rows = (times >= since_s) & (times <= now_s)
        return times[rows], values[rows]

    def grid(self, now_s: float, since_s: float) -> Grid:
        """The readings from ``since_s`` to ``now_s`` on the grid; at least one bin long."""
        since_s = max(since_s, now_s - LONGEST_S)
        n = max(int(np.ceil((now_s - since_s) / BIN_S)), 1)
        centres: Floats = now_s - BIN_S * (np.arange(n, dtype=np.float64)[::-1] + 0.5)
        raw = {role: self._binned(role, now_s, n) for role in Role}
        pot, read = raw[Role.POT], np.isfinite(raw[Role.POT])
        near = np.convolve(read, np.ones(11), mode="same")[:n] > 0 if n > 11 else read | read.any()
        ambient = raw[Role.AMBIENT]
        air = AMBIENT_C
        if read.any():
            air = float(min(pot[read][0], AMBIENT_C + 5.0))
        return Grid(
            now_s,
            centres,
            _closed(pot, air),
            raw[Role.CORE],
            _closed(ambient, air),
            raw[Role.IRRADIANCE],
            near,
        )

    def _binned(self, role: Role, now_s: float, n: int) -> Floats:
        times, values = self.between(role, now_s - n * BIN_S, now_s)
        bins = n - 1 - np.minimum(((now_s - times) / BIN_S).astype(int), n - 1)
        count = np.bincount(bins, minlength=n)
        total = np.bincount(bins, weights=values, minlength=n)
        with np.errstate(invalid="ignore"):
            return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan), float)


def _closed(values: Floats, default: float) -> Floats:
    """Gaps closed by straight lines, ends by the nearest value, nothing at all by the default."""
    good = np.flatnonzero(np.isfinite(values))
    if len(good) == 0:
        return np.full(len(values), default)
    return np.interp(np.arange(len(values)), good, values[good])


def edges(values: Floats) -> Floats:
    """Values at the right edges of the bins, from the means of the bins; shape (n,)."""
    if len(values) < 2:
        return values.copy()
    inner = (values[:-1] + values[1:]) / 2
    return np.append(inner, values[-1] + (values[-1] - values[-2]) / 2)
