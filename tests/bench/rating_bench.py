"""How well ratings find again what is known: profiles, cooking power, the effect of a rebuild.

Cookers of known build cook under measured skies; the figures are printed as they come.
"""

import argparse
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from bench.measured import MeasuredDay, measured_days
from bench.rating_kitchen import (
    Build,
    build,
    cookings,
    dedicated,
    rated_by_the_book,
    rebuilt,
    recorded,
)
from noonpot.core.balance import with_sky
from noonpot.core.evidence import Evidence
from noonpot.core.profile import QUANTITIES, Profile, balances, changes, profile
from noonpot.core.rating import cooking_power
from noonpot.core.station import CookerSpec
from noonpot.core.straightline import Estimate
from noonpot.core.tenminutes import brought_to_load, intervals
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods


@dataclass(frozen=True)
class Found:
    """One cooker: truth and profile, cooking power by the book and from ordinary cooks [W]; whether
    a rebuild was found, and whether one was where there was none.
    """

    sensor: bool
    truth: Mapping[str, float]
    numbers: Mapping[str, Estimate]
    book_w: float
    power_w: float | None
    power_low_w: float | None
    power_high_w: float | None
    test_w: float | None
    intervals: int
    rebuild_found: bool
    false_alarm: bool


def found(seed: int, days: Sequence[MeasuredDay]) -> Found:
    """Everything about the cooker of this seed."""
    rng = np.random.default_rng(1000 + seed)
    made, sensor = build(rng), seed % 2 == 0
    cooks, known = _watched(made, days, rng, sensor=sensor)
    held_j_k = known.numbers["heat_capacity_j_k"].value
    rated = cooking_power(brought_to_load(i, held_j_k) for cook in cooks for i in intervals(cook))
    _, again = _watched(made, days, rng, sensor=sensor)
    _, better = _watched(rebuilt(made, rng), days, rng, sensor=sensor)
    power = rated.power_w
    return Found(
        sensor=sensor,
        truth=made.truth(),
        numbers=known.numbers,
        book_w=rated_by_the_book(made, days),
        power_w=power.value if power else None,
        power_low_w=power.low if power else None,
        power_high_w=power.high if power else None,
        test_w=_tested(made, days, rng),
        intervals=len(rated.intervals),
        rebuild_found=changes(known, better)["stagnation_c"].real,
        false_alarm=changes(known, again)["stagnation_c"].real,
    )


def _tested(made: Build, days: Sequence[MeasuredDay], rng: np.random.Generator) -> float | None:
    """Cooking power [W] from a dedicated test as a station with a sensor of light sees it."""
    foods = read_foods(supplied("foods.toml"))
    spec = CookerSpec("cooker", round(made.aperture_m2, 3), 30.0)
    cooks = [
        Evidence.of(recorded(made, c, rng, sensor=True), spec, [c.day.table], foods)
        for c in dedicated(made, days)
    ]
    power = cooking_power(i for cook in cooks for i in intervals(cook)).power_w
    return None if power is None else power.value


def _watched(
    made: Build, days: Sequence[MeasuredDay], rng: np.random.Generator, *, sensor: bool
) -> tuple[list[Evidence], Profile]:
    """Six cooks of a cooker as evidence, and the profile they give."""
    foods = read_foods(supplied("foods.toml"))
    spec = CookerSpec("cooker", round(made.aperture_m2, 3), 30.0)
    cooks = []
    for cooking in cookings(rng, made, days):
        recording = recorded(made, cooking, rng, sensor=sensor)
        cooks.append(Evidence.of(recording, spec, [cooking.day.table], foods))
    cases = balances(cooks)
    known = profile(spec, cases)
    assert known is not None
    if not sensor:
        pairs = zip(cooks, known.used, strict=True)
        cooks = [cook if case is None else with_sky(cook, case) for cook, case in pairs]
    return cooks, known


def told(every: Sequence[Found]) -> None:
    """Print the figures of some cookers."""
    print(f"  {'':18} covered  median miss  half-width (90 %)")
    for name in QUANTITIES:
        base = 25.0 if name == "stagnation_c" else 0.0
        truth = np.array([f.truth[name] for f in every])
        mid, low, high = (
            np.array([getattr(f.numbers[name], key) for f in every])
            for key in ("value", "low", "high")
        )
        covered = np.mean((low <= truth) & (truth <= high))
        miss = (mid - truth) / (truth - base)
        width = np.median((high - low) / 2 / (truth - base))
        print(
            f"  {name:18} {covered:6.0%}  {np.median(np.abs(miss)):6.0%} "
            f"(bias {np.median(miss):+.0%})  {width:6.0%}"
        )
    tests = np.array([f.test_w / f.book_w - 1 for f in every if f.test_w is not None])
    print(
        f"  dedicated test by the station: off by {np.median(np.abs(tests)):.0%} (bias "
        f"{np.median(tests):+.0%}), within 10 % in {np.mean(np.abs(tests) <= 0.10):.0%}"
    )
    rated = [f for f in every if f.power_w is not None and f.intervals >= 10]
    off = np.array([f.power_w / f.book_w - 1 for f in rated if f.power_w is not None])
    if len(off):
        inside = np.mean(
            [
                f.power_low_w <= f.book_w <= f.power_high_w
                for f in rated
                if f.power_low_w is not None and f.power_high_w is not None
            ]
        )
        print(
            f"  cooking power: {len(off)} of {len(every)} rated from 10 intervals or more; off by "
            f"{np.median(np.abs(off)):.0%} (median, bias {np.median(off):+.0%}), within 10 % in "
            f"{np.mean(np.abs(off) <= 0.10):.0%}; its interval holds the book in {inside:.0%}"
        )
    print(
        f"  loss cut by 25 to 40 %: found in {np.mean([f.rebuild_found for f in every]):.0%}; "
        f"nothing changed: change seen in {np.mean([f.false_alarm for f in every]):.0%}"
    )


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, default=Path.home() / ".cache" / "noonpot-bench")
    parser.add_argument("--cookers", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    days = measured_days(args.cache)
    seeds = range(args.first, args.first + args.cookers)
    with ProcessPoolExecutor(args.workers) as pool:
        every = list(pool.map(partial(found, days=days), seeds, chunksize=4))
    for words, sensor in (("with a sensor of light", True), ("without", False)):
        some = [f for f in every if f.sensor is sensor]
        if some:
            print(f"\n{len(some)} cookers {words}, six cooks each")
            told(some)


if __name__ == "__main__":
    main()
