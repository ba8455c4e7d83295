"""How good were the forecasts: error, coverage and chance, by what the cook was like."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.asking import Asked

Floats = NDArray[np.float64]
Kept = Callable[[Asked], bool]
NAME = 26
HEAD = (
    f"{'':{NAME}s} {'asked':>5s} {'done':>5s} | {'ours50':>6s} {'80%':>6s} | "
    f"{'line50':>6s} {'80%':>6s} | {'lag50':>6s} {'80%':>6s} | ratio   80% | cov% width | "
    "brier climate"
)


@dataclass(frozen=True, slots=True, eq=False)
class Score:
    """Errors of the median time of those cooks that were done, shape (n,) [minutes]: ours, those of
    straight line and single lag; share of intervals that held the truth, their usual width
    [minutes]; mean square error of the chance, and that of the season's mean.
    """

    asked: int
    ours: Floats
    line: Floats
    lag: Floats
    coverage: float
    width: float
    brier: float
    climate: float

    @classmethod
    def of(cls, asks: Sequence[Asked]) -> "Score":
        """The score of these forecasts, at least one."""
        done = [(a, a.truth) for a in asks if a.truth is not None]
        outcome = np.array([a.truth is not None for a in asks], float)
        chance = np.array([a.p_done for a in asks])
        held = [
            a.p10 is not None and a.p90 is not None and a.p10 <= truth <= a.p90 for a, truth in done
        ]
        widths = [a.p90 - a.p10 for a, _ in done if a.p10 is not None and a.p90 is not None]
        return cls(
            asked=len(asks),
            ours=np.array([_miss(a.p50, a.left, truth) for a, truth in done]),
            line=np.array([_miss(a.line, a.left, truth) for a, truth in done]),
            lag=np.array([_miss(a.lag, a.left, truth) for a, truth in done]),
            coverage=float(np.mean(held)) if held else float("nan"),
            width=float(np.median(widths)) if widths else float("nan"),
            brier=float(np.mean((chance - outcome) ** 2)),
            climate=float(outcome.mean() * (1 - outcome.mean())),
        )

    def ratio(self, share: float = 0.5) -> float:
        """Error that this share of the forecasts stays below, over that of the straight line."""
        return float(np.quantile(self.ours, share) / np.quantile(self.line, share))


def _miss(said: float | None, left: float, truth: float) -> float:
    """Error in minutes; who says nothing, or a time after the sun, is taken to say: at sundown."""
    return abs((left if said is None else min(said, left)) - truth)


def table(asks: Sequence[Asked]) -> str:
    """All lines of results of one kitchen."""
    groups = [(name, [a for a in asks if kept(a)]) for name, kept in _groups(asks)]
    return "\n".join([HEAD, *(_line(name, group) for name, group in groups if group)])


def _line(name: str, asks: Sequence[Asked]) -> str:
    score = Score.of(asks)
    begin = f"{name:{NAME}s} {score.asked:5d} {len(score.ours):5d} | "
    if not len(score.ours):
        return f"{begin}brier {score.brier:.3f} (climate {score.climate:.3f})"
    errors = [
        f"{np.quantile(x, 0.5):6.1f} {np.quantile(x, 0.8):6.1f} | "
        for x in (score.ours, score.line, score.lag)
    ]
    return (
        f"{begin}{''.join(errors)}{score.ratio():5.2f} {score.ratio(0.8):5.2f} | "
        f"{100 * score.coverage:4.0f} {score.width:5.0f} | {score.brier:.3f} {score.climate:.3f}"
    )


def _groups(asks: Sequence[Asked]) -> Iterator[tuple[str, Kept]]:
    """What the table tells apart."""
    yield "all days", lambda _: True
    yield "clear days", lambda a: a.clear
    yield "other days", lambda a: not a.clear
    for kind in sorted({a.kind for a in asks}):
        yield from _both(kind, _of_kind(kind))
    yield from _both("dry food", lambda a: not a.wet)
    yield from _both("wet food", lambda a: a.wet)
    for food in sorted({a.food for a in asks}):
        yield food, _of_food(food)
    yield from _both("with sensor", lambda a: a.sensor)
    yield from _both("without sensor", lambda a: not a.sensor)
    yield "no history", lambda a: a.history == 0
    yield "with history", lambda a: a.history > 0
    yield from _both("last hour", lambda a: a.truth is not None and a.truth <= 60)
    yield "more than an hour before", lambda a: a.truth is None or a.truth > 60


def _of_kind(kind: str) -> Kept:
    return lambda a: a.kind == kind


def _of_food(food: str) -> Kept:
    return lambda a: a.food == food


def _both(name: str, kept: Kept) -> Iterator[tuple[str, Kept]]:
    yield name, kept
    yield f"{name}, clear", lambda a: kept(a) and a.clear
