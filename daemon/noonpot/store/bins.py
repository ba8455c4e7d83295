"""Readings gathered into bins of time: of each series the smallest and the largest, corrected.

A range with more than ``MOST_ROWS`` readings is not read whole: a walk along the primary key jumps
from round to round, over gaps for nothing, with a step that makes it land on about ``LANDINGS``
rounds. Of a year it sees a cook every hour or two, so the top of a day may be some degrees low.
Where readings are rolled up, the extremes of ten minutes stand in their place.
"""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from noonpot.store import rollups
from noonpot.store.calibrations import Lines
from noonpot.store.samples import SERIES
from noonpot.store.timeline import Stretch

MOST_ROWS = 150_000
LANDINGS = 3000
SAMPLE = 200
ROUND_S = 30  # a walk looks so far ahead for each probe of a round

# A value and its place in the stretch as one number: an extreme of one brings the other along.
SHIFT = 32
PLACE = (1 << SHIFT) - 1

FORWARD = "SELECT id >> 10 FROM reading WHERE id BETWEEN ? AND ? ORDER BY id"
BACKWARD = f"{FORWARD} DESC"
READ = """SELECT ((id >> 10) + :shift) / :width AS bin, id & 1023 AS series,
        min((value << 32) + (id >> 10) - :origin), max((value << 32) + (id >> 10) - :origin)
    FROM reading
    WHERE id BETWEEN :first AND :last
        AND id & 1023 IN (SELECT value FROM json_each(:numbers))
    GROUP BY bin, series
"""
WALK = """WITH RECURSIVE walk (tick) AS (
        SELECT (SELECT id >> 10 FROM reading WHERE id BETWEEN :first AND :last ORDER BY id LIMIT 1)
        UNION ALL
        SELECT (SELECT id >> 10 FROM reading
            WHERE id BETWEEN (tick + :step) * 1024 AND :last ORDER BY id LIMIT 1)
        FROM walk WHERE tick IS NOT NULL
    )
    SELECT tick, series.value, (SELECT reading.value FROM reading
        WHERE id BETWEEN tick * 1024 AND (tick + :round) * 1024 AND id & 1023 = series.value
        ORDER BY id LIMIT 1)
    FROM walk CROSS JOIN json_each(:numbers) AS series WHERE tick IS NOT NULL
"""


@dataclass(slots=True)
class Extremes:
    """The smallest and the largest reading, each as (value [°C; W/m²], Unix time [s])."""

    low: tuple[float, int]
    high: tuple[float, int]


class Bins:
    """Bins of ``width_s`` [s] that begin at the Unix time ``begin_s``; ``found`` holds the extremes
    by bin and series.
    """

    def __init__(self, begin_s: int, width_s: int, numbers: Sequence[int]) -> None:
        self.found: dict[tuple[int, int], Extremes] = {}
        self._begin_s = begin_s
        self._width_s = width_s
        self._many = len(numbers)
        self._numbers = json.dumps(list(numbers))

    def fill(self, db: sqlite3.Connection, ranges: Sequence[Stretch]) -> int:
        """Gather all stretches. Returns 0 when every reading was looked at, else the step, and how
        long a roll-up is where there is any, if that is longer [s].
        """
        step_s, lines = _step(db, ranges), Lines(db)
        rolled_s = rollups.walk_step_s(db, ranges, self._many)
        for piece in lines.pieces(ranges):
            if step_s:
                self._walk(db, lines, piece, step_s)
            else:
                self._read(db, lines, piece)
            if rolled_s:
                self._walk_rolled(db, lines, piece, rolled_s)
            elif rolled_s == 0:
                self._read_rolled(db, lines, piece)
        return step_s if rolled_s is None else max(step_s, rolled_s, rollups.ROLL_S)

    def _read(self, db: sqlite3.Connection, lines: Lines, stretch: Stretch) -> None:
        self._gather(db, READ, lines, stretch, ids(stretch))

    def _read_rolled(self, db: sqlite3.Connection, lines: Lines, stretch: Stretch) -> None:
        self._gather(db, rollups.READ, lines, stretch, rollups.ids(stretch))

    def _gather(
        self,
        db: sqlite3.Connection,
        query: str,
        lines: Lines,
        stretch: Stretch,
        bounds: tuple[int, int],
    ) -> None:
        origin_s = stretch.span.wall_s + stretch.first
        given = {
            "shift": stretch.span.wall_s - self._begin_s,
            "width": self._width_s,
            "origin": stretch.first,
            "begun": stretch.first,
            "ended": stretch.last,
            "first": bounds[0],
            "last": bounds[1],
            "numbers": self._numbers,
        }
        for number, series, low, high in db.execute(query, given):
            for packed in (low, high):
                value = lines.value(series, stretch.first, packed >> SHIFT)
                self.take(number, series, value, origin_s + (packed & PLACE))

    def _walk(self, db: sqlite3.Connection, lines: Lines, stretch: Stretch, step_s: int) -> None:
        for tick, series, value in db.execute(WALK, _given(stretch, step_s, self._numbers)):
            if value is not None:
                at_s = tick + stretch.span.wall_s
                true = lines.value(series, stretch.first, value)
                self.take((at_s - self._begin_s) // self._width_s, series, true, at_s)

    def _walk_rolled(
        self, db: sqlite3.Connection, lines: Lines, stretch: Stretch, step_s: int
    ) -> None:
        first, last = rollups.ids(stretch)
        given = {"first": first, "last": last, "step": step_s, "numbers": self._numbers}
        for _, series, low, low_tick, high, high_tick in db.execute(rollups.WALK, given):
            for tick, value in ((low_tick, low), (high_tick, high)):
                if stretch.first <= tick <= stretch.last:
                    at_s = tick + stretch.span.wall_s
                    true = lines.value(series, stretch.first, value)
                    self.take((at_s - self._begin_s) // self._width_s, series, true, at_s)

    def take(self, number: int, series: int, value: float, at_s: int) -> None:
        """Put a reading [°C; W/m²] into its bin; ``at_s`` is Unix time [s]."""
        told = value, at_s
        known = self.found.get((number, series))
        if known is None:
            self.found[number, series] = Extremes(told, told)
            return
        known.low = min(known.low, told)
        known.high = max(known.high, told)


def ids(stretch: Stretch) -> tuple[int, int]:
    """The smallest and the largest id that a reading of this stretch can have."""
    return stretch.first * SERIES, stretch.last * SERIES + SERIES - 1


def _step(db: sqlite3.Connection, ranges: Sequence[Stretch]) -> int:
    """0 when all can be read, else the step of a walk [s].

    How much there is, is not counted, which would take as long as reading it: the first and last
    readings tell how dense they lie, and a first walk, how much of the time there are any.
    """
    lengths_s = [_length_s(db, stretch) for stretch in ranges]
    density = max((_density(db, stretch) for stretch in ranges), default=0.0)
    if density * sum(lengths_s) <= MOST_ROWS:
        return 0
    coarse_s = max(1, ceil(sum(lengths_s) / LANDINGS))
    landed = sum(1 for s in ranges for _ in db.execute(WALK, _given(s, coarse_s, "[0]", round_s=0)))
    if density * landed * coarse_s <= MOST_ROWS:
        return 0
    return max(1, ceil(coarse_s * landed / LANDINGS))


def _length_s(db: sqlite3.Connection, stretch: Stretch) -> int:
    """From the first to the last reading of a stretch [s]."""
    first = db.execute(f"{FORWARD} LIMIT 1", ids(stretch)).fetchone()
    last = db.execute(f"{BACKWARD} LIMIT 1", ids(stretch)).fetchone()
    return 0 if first is None else int(last[0] - first[0])


def _density(db: sqlite3.Connection, stretch: Stretch) -> float:
    """How many readings there are in a second of a stretch, where it is densest."""
    found = 0.0
    for order in (FORWARD, BACKWARD):
        ticks = [tick for (tick,) in db.execute(f"{order} LIMIT {SAMPLE}", ids(stretch))]
        if ticks:
            found = max(found, len(ticks) / (abs(ticks[-1] - ticks[0]) + 1))
    return found


def _given(
    stretch: Stretch, step_s: int, numbers: str, round_s: int = ROUND_S
) -> dict[str, int | str]:
    first, last = ids(stretch)
    return {"first": first, "last": last, "step": step_s, "round": round_s, "numbers": numbers}
