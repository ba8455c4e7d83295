"""Foods by months by skies: what a known cooker does, and how it is told."""

from dataclasses import replace
from datetime import UTC, date, timedelta

import numpy as np
import pytest

from cooks import AIR_C, FOODS, KETTLE, TABLES, recorded
from noonpot.core.dayahead import DayAhead, day_ahead
from noonpot.core.foods import Food, Target
from noonpot.core.learning import Knowledge, learn
from noonpot.core.moment import utc
from noonpot.core.planning import Dish, Wish, plan
from noonpot.core.readings import Role
from noonpot.core.recommendation import Cell, cell_of
from noonpot.core.rehearsal import Tending
from noonpot.core.season import Outcome, outcome
from noonpot.core.seasonadvice import recommended, spans
from noonpot.core.seasonwords import Basis, table_lines
from noonpot.core.skykind import sky_named
from noonpot.core.station import CookerSpec
from noonpot.core.wording import Wording
from simday import HILL, SimpleSun
from skies import EQUATOR, hour

SPEC = CookerSpec("box", 0.25, 30.0)
BREAD = Dish(FOODS["bread"], 0.8, 24.0, Target(90.0), 99.97)
DAY = day_ahead(TABLES[0], EQUATOR)


@pytest.fixture(scope="module")
def taught() -> Knowledge:
    past = [recorded("bread", mass_kg=0.7, seed=5), recorded("bread", seed=6)]
    return learn(past, SPEC, TABLES, FOODS)


def fares(
    taught: Knowledge, sky: str = "clear", dish: Dish = BREAD, day: DayAhead = DAY
) -> Outcome:
    return outcome(SPEC, taught, dish, day, sky_named(sky), AIR_C, 1800.0)


def test_a_known_loaf_takes_as_long_as_it_did(taught: Knowledge) -> None:
    found = fares(taught, dish=replace(BREAD, food=replace(BREAD.food, loading_pot_c=110.0)))
    rows = recorded("bread", seed=9).rows  # in the sun since 7:30, loaded at 9
    truth = next(r.at for r in rows if r.values.get(Role.CORE, 0.0) >= 90.0) - hour(9.0)
    assert found.chance > 0.9
    assert found.takes_s is not None
    assert abs(timedelta(seconds=found.takes_s) - truth) < timedelta(minutes=30)


def test_the_table_agrees_with_a_plan_for_the_same_day(taught: Knowledge) -> None:
    for sky in ("clear", "thin", "broken"):
        wish = Wish(BREAD, DAY, sky_named(sky), AIR_C, UTC)
        planned, found = plan(SPEC, taught, wish, Tending(1800.0)), fares(taught, sky)
        assert found.chance == pytest.approx(planned.best.p_done, abs=0.12)  # chance of 120 and 200


def test_darker_skies_and_larger_loads_lower_the_chance(taught: Knowledge) -> None:
    heavy = replace(BREAD, mass_kg=2.5)
    chances = [fares(taught, sky, heavy).chance for sky in ("clear", "thin", "broken", "overcast")]
    assert chances == sorted(chances, reverse=True)
    assert fares(taught, "thin", heavy).chance <= fares(taught, "thin").chance


def test_the_last_good_hour_comes_before_the_sun_is_lost(taught: Knowledge) -> None:
    found = fares(taught)
    assert found.latest_step is not None
    assert found.load_step is not None
    assert found.latest_step >= found.load_step - 12
    assert 300 * (len(DAY) - found.latest_step) > 3600


def test_food_that_is_lukewarm_for_hours_does_not_count_as_done(taught: Knowledge) -> None:
    slow = replace(BREAD, mass_kg=6.0, target=Target(70.0), start_c=5.0)
    stew = replace(slow, food=Food("pot roast", 90.0, safe_c=63.0))
    loaf = replace(slow, food=Food("big loaf", 90.0))
    assert fares(taught, "thin", stew).chance < fares(taught, "thin", loaf).chance - 0.1


def test_what_cannot_be_done_is_not_given_an_hour(taught: Knowledge) -> None:
    hard = replace(BREAD, target=Target(200.0))
    assert fares(taught, dish=hard) == Outcome(0.0)


def test_a_day_without_sun_has_no_chance(taught: Knowledge) -> None:
    night = replace(TABLES[0], elevation_deg=np.full_like(TABLES[0].elevation_deg, -5.0))
    assert fares(taught, day=day_ahead(night, EQUATOR)) == Outcome(0.0)


def test_winter_is_worse_than_summer_on_the_hill() -> None:
    strong = Knowledge(4, (KETTLE.tolist(), (0.001 * np.eye(8)).tolist()))
    chances = [
        outcome(
            SPEC,
            strong,
            replace(BREAD, mass_kg=1.5),
            day_ahead(SimpleSun().day(HILL, day), HILL),
            sky_named("thin"),
            10.0,
            3600.0,
        ).chance
        for day in (date(2026, 6, 15), date(2026, 12, 15))
    ]
    assert chances[0] > chances[1] + 0.1


def cell(food: str, month: int, sky: str, chance: float) -> Cell:
    at = utc(f"2026-{month:02}-15T09:00:00Z") if chance >= 0.8 else None
    return Cell(food, month, sky, chance, 7200.0, at, at)


CELLS = [
    cell(food, month, sky, chance)
    for food, summer in (("bread", 0.95), ("beans", 0.3))
    for month in range(1, 13)
    for sky, dim in (("clear", 0.0), ("thin", 0.05), ("broken", 0.4))
    for chance in (summer - dim - 0.5 * (month in (11, 12, 1)),)
]


def test_a_table_is_told_with_hours_and_masses() -> None:
    basis = Basis(0, 20.0, 3600.0, {"bread": 0.8, "beans": 1.2}, {"beans": "Boil them first."})
    lines = list(table_lines("box", CELLS, basis, Wording()))
    text = "\n".join(lines)
    assert "the air 20 °C all year, the cooker is turned every 60 min" in text
    assert "these are guesses" in text
    assert "bread   0.8 kg   45%   95%" in text
    assert "thin cloud" in text
    row = next(line for line in lines if line.startswith("  in by"))
    assert row.split()[2:4] == ["-", "09:00"]
    assert "bread: Feb to Oct, on clear days only." in text
    assert "beans: not to be recommended in any month.\n  Care: Boil them first." in text
    assert "  takes" in text
    assert "2.0h" in text
    assert "no promise" in text


def test_what_goes_under_any_sky_is_said() -> None:
    sure = {(c.food, c.month, c.sky): replace(c, chance=0.9) for c in CELLS if c.food == "bread"}
    assert list(recommended(["bread"], sure)) == [
        "bread: all year on clear days; all year under any of these skies."
    ]


def test_months_are_told_around_the_year() -> None:
    assert spans([11, 12, 1, 2]) == "Nov to Feb"
    assert spans([4]) == "Apr"


def test_a_cell_takes_its_hours_from_the_day() -> None:
    found = cell_of("bread", 3, "clear", DAY, Outcome(0.9, 12, 5400.0, 24))
    assert found.load_at == DAY.time_of(12)
    assert found.latest_at == DAY.time_of(24)
    assert found.verdict == "good"
    assert cell_of("bread", 3, "clear", DAY, Outcome(0.796)).verdict == "good"  # told as 80 %
    assert cell_of("bread", 3, "clear", DAY, Outcome(0.5)).verdict == "fair"
    assert cell_of("bread", 3, "clear", DAY, Outcome(0.494)).verdict == "poor"


def test_food_of_ones_own_is_a_food() -> None:
    quick = replace(BREAD, food=Food("flatbread", 85.0), mass_kg=0.2, target=Target(85.0))
    assert outcome(SPEC, Knowledge(), quick, DAY, sky_named("clear"), 25.0, 1800.0).chance > 0.5
