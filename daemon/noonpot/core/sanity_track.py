"""What one probe showed lately: smoothed points, and since when it has not moved at all."""

from bisect import bisect_right
from collections.abc import Sequence
from statistics import median

BIN_S = 10.0
KEPT_S = 90 * 60.0
LATE_S = 90.0
"""A point so much older than asked for still answers [s]: slow logs have a row a minute."""

AT_BOARD_K = 2.0
"""A thermocouple that shows its board within this [K] may be shorted: the error of the two
together, MAX31855 data sheet (from memory).
"""


class Track:
    """Medians of ``BIN_S`` seconds, each the median of three: a lone spike leaves no mark, a step
    stays a step. Times are monotonic [s], values °C or W/m².
    """

    def __init__(self) -> None:
        self.times: list[float] = []
        self.values: list[float] = []
        self.still_since_s: float | None = None
        self.last: float | None = None
        self.board_c: float | None = None
        self.at_board_since_s: float | None = None
        self._last_s = float("-inf")
        self._bin: list[float] = []
        self._bin_s = float("-inf")
        self._bins: list[tuple[float, float]] = []

    def add(self, at_s: float, value: float, board_c: float | None = None) -> bool:
        """Take in a reading, and say whether it completed a point. What comes late is dropped."""
        if at_s <= self._last_s:
            return False
        if value != self.last or self.still_since_s is None:
            self.still_since_s = at_s
        if board_c is None or abs(value - board_c) > AT_BOARD_K:
            self.at_board_since_s = None
        elif self.at_board_since_s is None:
            self.at_board_since_s = at_s
        self._last_s, self.last, self.board_c = at_s, value, board_c
        full = bool(self._bin) and at_s - self._bin_s >= BIN_S
        if full:
            self._close()
        if not self._bin:
            self._bin_s = at_s
        self._bin.append(value)
        return full

    def at(self, when_s: float) -> float | None:
        """The last point at or before a time, None when that is too old."""
        i = bisect_right(self.times, when_s) - 1
        return self.values[i] if i >= 0 and when_s - self.times[i] <= LATE_S else None

    def between(self, since_s: float, until_s: float) -> Sequence[tuple[float, float]]:
        """The points with since <= time <= until."""
        first, last = bisect_right(self.times, since_s - 1e-6), bisect_right(self.times, until_s)
        return list(zip(self.times[first:last], self.values[first:last], strict=True))

    def slope(self, since_s: float, until_s: float) -> float:
        """How fast it moved [per s], from the first to the last point between; 0 when unknown."""
        points = self.between(since_s, until_s)
        if len(points) < 2:
            return 0.0
        (t0, v0), (t1, v1) = points[0], points[-1]
        return (v1 - v0) / (t1 - t0)

    def still_s(self, now_s: float) -> float:
        """How long the same value has been read, to the last bit [s]."""
        if self.still_since_s is None or now_s - self._last_s > LATE_S:
            return 0.0
        return self._last_s - self.still_since_s

    def at_board_s(self, now_s: float) -> float:
        """How long the temperature of the converter board has been read [s]."""
        if self.at_board_since_s is None or now_s - self._last_s > LATE_S:
            return 0.0
        return self._last_s - self.at_board_since_s

    def moved(self, since_s: float, until_s: float) -> float:
        """How far apart its lowest and highest point are."""
        values = [value for _, value in self.between(since_s, until_s)]
        return max(values) - min(values) if values else 0.0

    def _close(self) -> None:
        self._bins = [*self._bins[-2:], (self._bin_s, median(self._bin))]
        self._bin = []
        if len(self._bins) < 3:
            return
        self.times.append(self._bins[1][0])
        self.values.append(median(value for _, value in self._bins))
        old = bisect_right(self.times, self.times[-1] - KEPT_S)
        del self.times[:old], self.values[:old]


def gaps(
    one: Track, other: Track, since_s: float, until_s: float
) -> Sequence[tuple[float, float, float]]:
    """Where both are known: time [s], the one, and by how much the other is above it."""
    found, points = [], one.between(since_s, until_s)
    times, values = other.times, other.values
    i = bisect_right(times, since_s) - 1
    for at_s, value in points:  # both lists run forward together
        while i + 1 < len(times) and times[i + 1] <= at_s:
            i += 1
        if i >= 0 and at_s - times[i] <= LATE_S:
            found.append((at_s, value, values[i] - value))
    return found
