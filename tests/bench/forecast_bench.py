"""Does the forecast earn its place? Simulated cooks under measured skies, against simple rivals.

Two kitchens cook, with physics of their own: the lumped one knows cookers by their gain over
misaim and food as shells; the mirror one traces light through mirrors and follows vapour and heat
through a cylinder. Neither knows the forecaster.

Run: python tests/bench/forecast_bench.py [--cache FOLDER] [--workers N] [--only KITCHEN]
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from bench import scenario
from bench.asking import CLOCK, Answers, ask
from bench.bars import column, summary
from bench.measured import measured_days
from bench.mirror_kitchen import scenario as mirror_scenario
from bench.scoring import table
from bench.trial import Exam
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods

KITCHENS = {"lumped kitchen": scenario.exams, "mirror kitchen": mirror_scenario.exams}
TIMED = 8
"""So many cooks are asked about once more, alone, to see how long a forecast takes."""


def answered(exams: Sequence[Exam], workers: int) -> list[Answers]:
    """The answers to all exams, in their order."""
    asking = partial(ask, foods=read_foods(supplied("foods.toml")))
    if workers == 1:
        return [asking(exam) for exam in exams]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(asking, exams))


def main() -> None:
    """Print a table for each kitchen, and both beside the bars."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, default=Path.home() / ".cache" / "noonpot-bench")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", choices=[name.split()[0] for name in KITCHENS])
    args = parser.parse_args()
    days = measured_days(args.cache)
    columns = {}
    for name, exams_of in KITCHENS.items():
        if args.only and not name.startswith(args.only):
            continue
        begun = CLOCK.moment().mono_s
        exams = exams_of(days)
        cooked_s = CLOCK.moment().mono_s - begun
        answers = answered(exams, args.workers)
        asks = [a for one in answers for a in one.asks]
        alone = answered(exams[:: max(len(exams) // TIMED, 1)], workers=1)
        columns[name] = column(asks, [a.seconds for one in alone for a in one.asks])
        print(f"\n{name}\n{table(asks)}")
        print(
            f"{len(exams)} cooks, {len(asks)} forecasts, {CLOCK.moment().mono_s - begun:.0f} s, "
            f"{cooked_s:.0f} s of these to cook; "
            f"learning {np.mean([one.learning_s for one in answers]):.2f} s a cook",
            flush=True,
        )
    print(f"\n{summary(columns)}")


if __name__ == "__main__":
    main()
