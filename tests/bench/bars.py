"""The forecast against its bars: a table for the documentation, a column a kitchen."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.asking import Asked
from bench.scoring import Score


@dataclass(frozen=True, slots=True)
class Bar:
    """What a figure must not leave, with so many ``digits`` behind the point; no rounding helps."""

    name: str
    least: float
    most: float
    unit: str = ""
    digits: int = 3

    def told(self) -> str:
        """The bar as text."""
        low = f"{self.least:g}-" if self.least else ""
        return f"{low}{self.most:g}{self.unit}"

    def judged(self, value: float, more: str = "") -> str:
        """A figure as text, and whether it misses the bar; ``more`` follows the figure."""
        missed = "" if self.least <= value <= self.most else ", missed"
        return f"{value:.{self.digits}f}{self.unit}{more}{missed}"


CLEAR = Bar("clear days, error over that of the line", 0, 0.35)
WORST = Bar("clear days, the same for the worst cooker", 0, 1.0)
ALL = Bar("all days, error over that of the line", 0, 0.45)
COVER_CLEAR = Bar("coverage of the 80 % interval, clear days", 73, 87, " %", 1)
COVER_ALL = Bar("coverage of the 80 % interval, all days", 73, 87, " %", 1)
BRIER = Bar("Brier score of the chance, all days", 0, 0.12)
TIME = Bar("one forecast, median", 0, 50, " ms", 0)
BARS = (CLEAR, WORST, ALL, COVER_CLEAR, COVER_ALL, BRIER, TIME)


def column(asks: Sequence[Asked], seconds: Sequence[float]) -> list[str]:
    """The figures of one kitchen, in the order of ``BARS``; ``seconds`` are what single forecasts
    took while nothing else ran.
    """
    clear = [a for a in asks if a.clear]
    good, whole = Score.of(clear), Score.of(asks)
    kinds = {a.kind for a in clear}
    ratios = {k: Score.of([a for a in clear if a.kind == k]).ratio() for k in kinds}
    worst = max(ratios, key=lambda kind: ratios[kind])
    millis = 1000 * np.array(seconds)
    return [
        CLEAR.judged(good.ratio()),
        WORST.judged(ratios[worst], f" ({worst})"),
        ALL.judged(whole.ratio()),
        COVER_CLEAR.judged(100 * good.coverage),
        COVER_ALL.judged(100 * whole.coverage),
        BRIER.judged(whole.brier),
        TIME.judged(float(np.median(millis)), f", longest {millis.max():.0f} ms"),
    ]


def summary(columns: Mapping[str, Sequence[str]]) -> str:
    """A table in Markdown: bars, and the figures of each kitchen beside them."""
    rows = [["Figure", "Bar", *columns], ["---"] * (2 + len(columns))]
    rows += [
        [bar.name, bar.told(), *(figures[i] for figures in columns.values())]
        for i, bar in enumerate(BARS)
    ]
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)
