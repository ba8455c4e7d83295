"""A figure beside its bar and its floor, and the one kind of table in which all of them stand.

A floor is the least that could do the same: a library's bare call, a bare loop. It is measured in
the same run, in turn with the figure, so that other work on the machine weighs on both.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from bench.budgets import Bar
from bench.processes import Took

HEAD = ("Budget", "Measured", "Floor", "Ratio", "Kept")
YES, SELDOM, NO = "yes", "median only", "missed"


SCALES = {" s": 1.0, " ms": 1e3}


@dataclass(frozen=True, slots=True)
class Series:
    """What was measured once or several times, in the unit of its bar. ``busy`` is the time that a
    processor worked for it, which other work on the machine hardly changes.
    """

    values: Sequence[float]
    busy: Sequence[float] = ()

    def told(self, bar: Bar) -> str:
        """The median and the worst."""
        text = _shown(bar, self.values)
        if len(self.values) > 1:
            text += f", worst {max(self.values):.{bar.digits}f} of {len(self.values)}"
        return f"{text}; processor {_shown(bar, self.busy)}" if self.busy else text


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of a table; a smaller value is a better one. ``more`` is said behind what was
    measured.
    """

    bar: Bar
    measured: Series
    floor: Series | None = None
    more: str = ""

    def kept(self) -> str:
        """Whether the bar is kept, by the median or even by the worst."""
        if self.bar.most == math.inf:
            return "-"
        if self.bar.holds(max(self.measured.values)):
            return YES
        return SELDOM if self.bar.holds(statistics.median(self.measured.values)) else NO

    def ratio(self) -> str:
        """How many times the floor it is, by the medians: of processor time, if both have it."""
        if self.floor is None:
            return "-"
        pairs = ((self.measured.busy, self.floor.busy), (self.measured.values, self.floor.values))
        ours, floor = next(pair for pair in pairs if all(pair))
        least = statistics.median(floor)
        if not least:
            return "-"
        ratio = statistics.median(ours) / least
        return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.2g}"

    def row(self) -> tuple[str, ...]:
        """A row of the table."""
        promised = "" if self.bar.most == math.inf else f", at most {self.bar.told()}"
        measured = f"{self.measured.told(self.bar)}{self.more and '; '}{self.more}"
        floor = "-" if self.floor is None else self.floor.told(self.bar)
        return f"{self.bar.name}{promised}", measured, floor, self.ratio(), self.kept()


def once(value: float) -> Series:
    """What was measured once."""
    return Series([value])


def series(bar: Bar, took: Sequence[Took]) -> Series:
    """What was timed, in the unit of the bar."""
    scale = SCALES[bar.unit]
    return Series([scale * each.whole_s for each in took], [scale * each.busy_s for each in took])


def timed_figure(bar: Bar, ours: Sequence[Took], floor: Sequence[Took], more: str = "") -> Figure:
    """A figure of which both sides were timed."""
    return Figure(bar, series(bar, ours), series(bar, floor), more)


def waiting_figure(bar: Bar, ours: Sequence[Took], floor: Sequence[Took], more: str = "") -> Figure:
    """The same for what mostly waits for a disk or for others: its ratio is of the whole times."""
    measured, least = (Series(series(bar, side).values) for side in (ours, floor))
    return Figure(bar, measured, least, more)


def _shown(bar: Bar, values: Sequence[float]) -> str:
    return f"{statistics.median(values):.{bar.digits}f}{bar.unit}"


def section(title: str, figures: Sequence[Figure], *remarks: str) -> str:
    """A part of the report in Markdown: its table, and what there is to say about it."""
    rows = [HEAD, ("---",) * len(HEAD), *(figure.row() for figure in figures)]
    table = "\n".join(f"| {' | '.join(row)} |" for row in rows)
    return "\n\n".join([f"## {title}", table, "\n".join(f"- {remark}" for remark in remarks)])


def rows_not_kept(report: str) -> list[tuple[str, str, str]]:
    """The figures of a report that leave their bars, and how: (budget, measured, kept)."""
    cells = [line.strip("| ").split(" | ") for line in report.splitlines() if line[:1] == "|"]
    return [(row[0], row[1], row[-1]) for row in cells if row[-1] in (SELDOM, NO)]
