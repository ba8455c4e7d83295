"""The kitchen that ratings are held against, and a small sample of what the benches measure."""

from datetime import date

import numpy as np
import pytest

from bench.measured import MeasuredDay
from bench.rating_kitchen import Build, Cooking, live, rated_by_the_book, recorded
from bench.season_bench import imagined, share_done
from noonpot.app.seasons import Season
from noonpot.core.dayahead import day_ahead
from noonpot.core.evidence import Evidence
from noonpot.core.learning import Knowledge, learn
from noonpot.core.profile import balances, profile
from noonpot.core.rating import cooking_power
from noonpot.core.season import outcome
from noonpot.core.skykind import sky_named
from noonpot.core.station import CookerSpec
from noonpot.core.tenminutes import intervals
from noonpot_hw.cooker_physics import Cooker, Kind, Outside
from ratings import FOODS
from simday import HILL, SimpleSun

MADE = Build(Kind(0.52, 0.4, 4.2, 0.05, 0.0015, 12e3), 0.3, 600.0, 30.0)
SPEC = CookerSpec("cooker", 0.3, 30.0)
TABLE = SimpleSun().day(HILL, date(2026, 6, 15))
AHEAD = day_ahead(TABLE, HILL)


def days(sky: str, count: int, seed: int = 1) -> list[MeasuredDay]:
    return imagined(TABLE, AHEAD, sky, count, np.random.default_rng(seed))


@pytest.fixture(scope="module")
def taught() -> Knowledge:
    rng = np.random.default_rng(3)
    plans = [
        Cooking(day, food, mass)
        for day, food, mass in zip(
            [*days("clear", 3), *days("thin", 1)],
            ("water", "soup", "water", "soup"),
            (2.1, 1.6, 1.2, 1.2),
            strict=True,
        )
    ]
    recordings = [recorded(MADE, plan, rng, sensor=True) for plan in plans]
    cases = balances([Evidence.of(r, SPEC, [TABLE], FOODS) for r in recordings])
    known, learnt = profile(SPEC, cases), learn(recordings, SPEC, [TABLE], FOODS)
    assert known is not None
    cooker = (known.belief.mean.tolist(), known.belief.cov.tolist())
    return Knowledge(known.cooks, cooker, learnt.foods)


def test_the_truth_of_a_build_is_what_it_comes_to_in_steady_sun() -> None:
    pot = Cooker(MADE.kind, MADE.aperture_m2, MADE.pot_j_k, 25.0, 25.0, 25.0)
    for _ in range(5 * 3600 // 5):
        pot.step(Outside(900.0, 25.0, 1.5), 5.0)
    assert pot.air_c == pytest.approx(MADE.truth()["stagnation_c"], abs=0.3)
    excess, truth = pot.air_c - 25.0, MADE.truth()
    assert truth["loss_wm2k"] * excess / truth["optical_gain"] == pytest.approx(900, rel=0.15)


def test_a_dedicated_test_with_noisy_probes_rates_within_a_tenth_of_the_true_one() -> None:
    rng, clear = np.random.default_rng(4), days("clear", 3)
    book_w = rated_by_the_book(MADE, clear)
    mass_kg = 7.0 * MADE.aperture_m2
    cooks = [
        Evidence.of(
            recorded(MADE, Cooking(day, "water", mass_kg, -2.0, -2.0, 2.5, 10), rng, sensor=True),
            SPEC,
            [TABLE],
            FOODS,
        )
        for day in clear
    ]
    rated = cooking_power(i for cook in cooks for i in intervals(cook))
    assert rated.power_w is not None
    assert rated.power_w.value == pytest.approx(book_w, rel=0.1)


def test_the_table_says_about_as_often_as_it_happens(taught: Knowledge) -> None:
    season = Season(SPEC, taught, HILL, FOODS)
    off = []
    for sky in ("clear", "thin", "broken"):
        skies = days(sky, 40, seed=7)
        for food in ("water", "soup"):
            dish = season.dish(FOODS[food])
            said = outcome(SPEC, taught, dish, AHEAD, sky_named(sky), 20.0, 1800.0)
            rng = np.random.default_rng(8)
            share = share_done(MADE, dish, AHEAD, said, skies, rng)
            print(f"{food} {sky}: {said.chance:.0%} said, {share:.0%} done")
            off.append(abs(said.chance - share))
    assert np.mean(off) < 0.12
    assert max(off) < 0.3


def test_more_light_never_makes_a_colder_pot() -> None:
    clear, dim = days("clear", 1)[0], days("overcast", 1)[0]
    pots = [live(MADE, Cooking(day, "water", 2.0)).pot_c.max() for day in (clear, dim)]
    assert pots[0] > pots[1] + 20
