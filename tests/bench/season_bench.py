"""Whether the table of recommendations says what happens: cell by cell, beside simulated cooks.

A cooker of known build is watched on six measured days, and the table is made of what that taught.
Then it cooks on imagined days of each month under each kind of sky, loaded when the table says; the
share that gets done is held against the chance.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

from bench.measured import PAYERNE, MeasuredDay, measured_days
from bench.rating_kitchen import Build, Cooking, build, cookings, live, recorded
from noonpot.app.daytables import day_tables
from noonpot.app.seasons import Season
from noonpot.clock import SystemClock
from noonpot.core import light
from noonpot.core.dayahead import DayAhead, day_ahead
from noonpot.core.evidence import Evidence
from noonpot.core.learning import Knowledge, learn
from noonpot.core.planning import Dish
from noonpot.core.profile import balances, profile
from noonpot.core.recommendation import SKIES
from noonpot.core.rescue import DANGER_C, OtherHeat
from noonpot.core.season import PREHEAT, Outcome, outcome
from noonpot.core.skykind import sky_named
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods

FOODS = ("bread", "soup", "water")
MONTHS = (3, 6, 9, 12)
AIR_C, EVERY_S = 20.0, 1800.0
NEAR = 0.10


@dataclass(frozen=True)
class Checked:
    """One cell: what the table says, and how often it truly got done."""

    seed: int
    food: str
    month: int
    sky: str
    chance: float
    share: float


def taught(made: Build, days: Sequence[MeasuredDay], rng: np.random.Generator) -> Knowledge:
    """What six watched cooks teach, as the command uses it."""
    foods = read_foods(supplied("foods.toml"))
    spec = CookerSpec("cooker", round(made.aperture_m2, 3), 30.0)
    cooks = cookings(rng, made, days)
    recordings = [recorded(made, c, rng, sensor=True) for c in cooks]
    tables = [c.day.table for c in cooks]
    cases = balances([Evidence.of(r, spec, tables, foods) for r in recordings])
    known, learnt = profile(spec, cases), learn(recordings, spec, tables, foods)
    assert known is not None
    cooker = (known.belief.mean.tolist(), known.belief.cov.tolist())
    return Knowledge(known.cooks, cooker, learnt.foods)


def imagined(
    table: DayTable, ahead: DayAhead, sky: str, count: int, rng: np.random.Generator
) -> list[MeasuredDay]:
    """Days of this kind of sky, a row a minute."""
    minutes = np.arange(table.start_s, table.end_s, 60.0)
    clear = light.clear_sky([table], (), minutes)
    row = np.clip(((minutes - ahead.begin_s) // 300).astype(int), 0, len(ahead) - 1)
    path = table.at_many(minutes)
    found = []
    for index in sky_named(sky).draw(ahead.steps_s, count, rng):
        beam, diffuse = light.split(index[row], clear)
        level = beam * clear.sine + diffuse
        air, wind = np.full(len(minutes), AIR_C), np.full(len(minutes), 1.5)
        day = DayTable(float(minutes[0]), 60.0, *path)
        found.append(
            MeasuredDay(sky, PAYERNE, float(minutes[0]), level, beam, diffuse, air, wind, day)
        )
    return found


def share_done(
    made: Build,
    dish: Dish,
    ahead: DayAhead,
    found: Outcome,
    days: Sequence[MeasuredDay],
    rng: np.random.Generator,
) -> float:
    """The share of cooks that get done before the sun is lost, loaded when the table says."""
    # where the table gives it no hour, about the best one
    step = int(0.35 * len(ahead)) if found.load_step is None else found.load_step
    before = 0 if dish.food.loading_pot_c is None else PREHEAT
    done = 0
    for day in days:
        noon_s = day.start_s + 60.0 * int(np.argmax(day.table.elevation_deg))
        load_h, start_h, end_h = (
            (ahead.begin_s + 300 * s - noon_s) / 3600 for s in (step, step - before, len(ahead))
        )
        mass = dish.mass_kg * float(np.exp(rng.normal(0, 0.03)))
        cooking = Cooking(
            day, dish.food.name, mass, start_h, load_h, end_h, int(EVERY_S / 60), dish.start_c
        )
        today = (float(np.exp(rng.normal(0, 0.03))), float(np.exp(rng.normal(0, 0.05))))
        cores = live(made, cooking, today).core_c[round((load_h - start_h) * 60) :]
        hot = cores >= dish.target.temp_c
        need = max(int(dish.food.hold_s / 60), 1)
        run = np.convolve(hot, np.ones(need), mode="valid") if len(hot) >= need else np.zeros(1)
        lukewarm = dish.food.hazardous and dish.food.spoils
        in_time = not lukewarm or bool((cores[: int(OtherHeat().limit_s / 60)] >= DANGER_C).any())
        done += in_time and bool((run >= need).any())
    return done / len(days)


def checked(seed: int, days: Sequence[MeasuredDay], count: int) -> list[Checked]:
    """All cells of the cooker of this seed."""
    rng = np.random.default_rng(5000 + seed)
    made = build(rng)
    foods = read_foods(supplied("foods.toml"))
    spec = CookerSpec("cooker", round(made.aperture_m2, 3), 30.0)
    season = Season(spec, taught(made, days, rng), PAYERNE, foods, AIR_C)
    tables = day_tables().days(PAYERNE, [date(2026, month, 15) for month in MONTHS])
    found = []
    for month, table in zip(MONTHS, tables, strict=True):
        ahead = day_ahead(table, PAYERNE)
        for sky in SKIES:
            skies = imagined(table, ahead, sky, count, rng)
            for food in FOODS:
                dish = season.dish(foods[food])
                said = outcome(spec, season.knowledge, dish, ahead, sky_named(sky), AIR_C, EVERY_S)
                share = share_done(made, dish, ahead, said, skies, rng)
                found.append(Checked(seed, food, month, sky, said.chance, share))
    return found


def main() -> None:
    """Print the figures, and every miss."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, default=Path.home() / ".cache" / "noonpot-bench")
    parser.add_argument("--cookers", type=int, default=4)
    parser.add_argument("--cooks", type=int, default=500, help="for each cell")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    task = partial(checked, days=measured_days(args.cache), count=args.cooks)
    clock = SystemClock()
    begun_s = clock.moment().mono_s
    with ProcessPoolExecutor(args.workers) as pool:
        cells = [cell for some in pool.map(task, range(args.cookers)) for cell in some]
    off = np.array([cell.chance - cell.share for cell in cells])
    print(
        f"{len(cells)} cells of {args.cookers} cookers, {args.cooks} cooks each: within 10 points "
        f"in {np.mean(np.abs(off) <= NEAR):.0%}, off by {100 * np.mean(np.abs(off)):.0f} points on "
        f"average (bias {100 * np.mean(off):+.0f}); {clock.moment().mono_s - begun_s:.0f} s"
    )
    print("misses: cooker food month sky said happened")
    for cell in cells:
        if abs(cell.chance - cell.share) > NEAR:
            print(
                f"  {cell.seed} {cell.food:8} {cell.month:>2} {cell.sky:7} "
                f"{cell.chance:4.0%} {cell.share:4.0%}"
            )


if __name__ == "__main__":
    main()
