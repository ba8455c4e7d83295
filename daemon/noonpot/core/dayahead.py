"""The daylight of a planned day in equal steps, and how a cooker will point through it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from noonpot.core import light
from noonpot.core.futures import SETTLED_DEG, between_suns
from noonpot.core.station import Place
from noonpot.core.sun import DayTable, unix_s

Floats = NDArray[np.float64]

STEP_S = 300.0


@dataclass(frozen=True, slots=True, eq=False)
class DayAhead:
    """n steps of ``STEP_S`` from ``begin_s`` [Unix s] until the sun is lost; ``clear`` is the clear
    sky in the middle of each.
    """

    begin_s: float
    clear: light.ClearSky

    def __len__(self) -> int:
        return len(self.clear.ghi)

    @property
    def steps_s(self) -> Floats:
        """Lengths of the steps [s], shape (n,)."""
        return np.full(len(self), STEP_S)

    @property
    def end_s(self) -> float:
        """When the sun is lost [Unix s], to the step."""
        return self.begin_s + STEP_S * len(self)

    @property
    def middles_s(self) -> Floats:
        """The middles of the steps [Unix s], shape (n,)."""
        return np.asarray(self.begin_s + STEP_S * (np.arange(len(self)) + 0.5), np.float64)

    def step_at(self, at_s: float) -> int:
        """The step that begins at this time, or next to it; 0 to n."""
        return int(np.clip(round((at_s - self.begin_s) / STEP_S), 0, len(self)))

    def time_of(self, step: float) -> datetime:
        """When a step begins; also between two of them."""
        return datetime.fromtimestamp(self.begin_s + STEP_S * step, UTC)

    def turned(self, every_s: float) -> Floats:
        """Misaim of a cooker that is turned to the sun so often [degrees], shape (n,)."""
        every = max(round(every_s / STEP_S), 1)
        steps = np.arange(len(self))
        return np.maximum(between_suns(self.clear)[steps // every * every, steps], SETTLED_DEG)

    def left(self, toward: int) -> Floats:
        """Misaim of a cooker that points to where the sun stands in one step, and is left so
        [degrees], shape (n,).
        """
        return np.asarray(np.maximum(between_suns(self.clear)[toward], SETTLED_DEG))


def day_ahead(
    table: DayTable, place: Place, since: datetime | None = None, begin: datetime | None = None
) -> DayAhead:
    """The daylight of the day of this table, with no step before ``since``.

    It begins when the sun is of use first, or at ``begin``, whichever is earlier. A tree that hides
    the sun for a while interrupts the day and does not end it. It has no step when there is no sun.
    """
    first = -(-table.start_s // STEP_S)
    times = _every(first * STEP_S, table.end_s)
    up = np.flatnonzero(_clear([table], place, times).up > 0)
    if len(up) == 0:
        return DayAhead(float(times[0]), _clear([table], place, times[:0]))
    start_s, end_s = float(times[up[0]]), float(times[up[-1]]) + STEP_S
    if begin is not None:
        start_s = min(start_s, unix_s(begin) // STEP_S * STEP_S)
    if since is not None:
        start_s = max(start_s, -(-unix_s(since) // STEP_S) * STEP_S)
    return DayAhead(start_s, _clear([table], place, _every(start_s, end_s)))


def _every(start_s: float, end_s: float) -> Floats:
    """The beginnings of the whole steps between two times [Unix s]."""
    steps = max(int((end_s - start_s) // STEP_S), 0)
    return np.asarray(start_s + STEP_S * np.arange(steps), np.float64)


def _clear(tables: Sequence[DayTable], place: Place, begins_s: Floats) -> light.ClearSky:
    return light.clear_sky(tables, place.horizon, begins_s + STEP_S / 2)
