"""The forecast against its bars: a table for the documentation, a column a kitchen."""

from collections.abc import Mapping, Sequence

import numpy as np

from bench.asking import Asked
from bench.budgets import ALL, BRIER, CLEAR, COVER_ALL, COVER_CLEAR, TIME, WORST
from bench.scoring import Score

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
