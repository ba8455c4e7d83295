"""Cooking power from watched cooks: which intervals count, what is said of each condition."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from noonpot.core.conditions import CONDITIONS, barring, judged
from noonpot.core.evidence import LightFrom
from noonpot.core.rating import cooking_power
from noonpot.core.readings import Role
from noonpot.core.straightline import mean_of, straight_line, t95
from noonpot.core.tenminutes import Interval, intervals
from noonpot_hw.cooker_physics import KINDS
from ratings import all_of, blind, evidence, interval, water_day
from simday import JUNE

GOOD = interval(50.0, 55.0, 800.0, 25.0)
CLEAR_SKY = replace(GOOD.light, source=LightFrom.CLEAR_SKY, spread_wm2=None)


def test_a_dedicated_test_of_four_days_is_rated() -> None:
    cooks = all_of([water_day(n) for n in range(4)])
    rated = cooking_power(i for cook in cooks for i in intervals(cook))
    assert rated.line is not None
    assert rated.power_w is not None
    assert rated.days == 4
    assert rated.measured
    assert all(rated.whole.values()), rated.whole
    assert rated.power_w.low < rated.power_w.value < rated.power_w.high
    # what the garden is built of; water takes its share of all that warms up (box, pot, water)
    kind, wm2 = KINDS["box"], np.mean([i.light.across_wm2 for i in rated.intervals])
    share = 1.75 * 4186 / (1.75 * 4186 + kind.capacity * 0.25 + 540)
    loss = kind.loss * (1 + 1.5 * kind.loss_wind) * 0.25
    assert rated.line.intercept == pytest.approx(700 * kind.efficiency * 0.25 * share, rel=0.15)
    assert rated.line.slope == pytest.approx(-loss * share * 700 / wm2, rel=0.15)


def test_a_cooker_heated_up_empty_is_not_rated_by_the_heat_it_took_in_before() -> None:
    cold = cooking_power(intervals(evidence(water_day(1))))
    hot = cooking_power(intervals(evidence(water_day(1, empty_h=2))))
    assert hot.barred["own-heat"] == 6
    assert cold.power_w is not None
    assert hot.power_w is not None
    assert hot.power_w.value == pytest.approx(cold.power_w.value, rel=0.06)


def test_no_water_no_mass_or_no_air_gives_no_interval() -> None:
    assert list(intervals(evidence(water_day(food="bread", mass_kg=0.6)))) == []
    assert list(intervals(evidence(blind(water_day(), Role.AMBIENT)))) == []
    unweighed = water_day()
    rows = [
        replace(row, detail={k: v for k, v in row.detail.items() if k != "mass_kg"})
        for row in unweighed.rows
    ]
    assert list(intervals(evidence(replace(unweighed, rows=rows)))) == []


def test_other_wet_food_is_rated_and_said_to_be_no_water() -> None:
    found = list(intervals(evidence(water_day(food="soup"))))
    rated = cooking_power(found)
    assert len(rated.intervals) > 5
    assert rated.conditions["water"].broken == len(rated.intervals)
    assert not rated.by_the_standard


def test_water_comes_before_other_food_where_there_is_enough() -> None:
    both = [i for food in ("water", "soup") for i in intervals(evidence(water_day(1, food=food)))]
    assert all(i.water for i in cooking_power(both).intervals)
    few = [*[i for i in both if not i.water], *[i for i in both if i.water][:3]]
    assert any(not i.water for i in cooking_power(few).intervals)


def test_without_a_sensor_only_a_sky_known_as_clear_gives_light() -> None:
    cook = evidence(blind(water_day(), Role.IRRADIANCE))
    assert list(intervals(cook)) == []
    blocks = np.ones(31)
    clear = list(intervals(cook.understood(blocks)))
    assert {i.light.source for i in clear} == {LightFrom.CLEAR_SKY}
    assert judged(clear[0])["light-steady"] is None
    blocks[10:20] = 0.7
    assert 0 < len(list(intervals(cook.understood(blocks)))) < len(clear)
    assert not cooking_power(clear).measured


def test_a_lifted_lid_bars_its_interval_and_begins_the_next_ones_anew() -> None:
    found = list(intervals(evidence(water_day(lid=True))))
    spoilt = [i for i in found if "quiet" in barring(i)]
    assert len(spoilt) == 1
    after = next(i for i in found if i.at_s > spoilt[0].at_s)
    assert after.at_s % 3600 == (45 + 6) * 60  # 11:45 and six minutes to settle


def test_a_note_may_tell_the_wind() -> None:
    calm = next(intervals(evidence(water_day(said="wind_ms: 0.8"))))
    windy = next(intervals(evidence(water_day(said="wind_ms: 4"))))
    assert (calm.wind_ms, judged(calm)["wind"]) == (0.8, True)
    assert "wind" in barring(windy)
    assert judged(next(intervals(evidence(water_day()))))["wind"] is None


def test_the_longest_time_without_a_turn_is_told() -> None:
    cook = evidence(water_day(2))  # turned every twenty minutes
    assert max(i.turned_s or 0.0 for i in intervals(cook)) == 1200.0
    first_s = cook.log.loads[0].at_s
    cook.log.aims[:] = [aim for aim in cook.log.aims if aim[0] <= first_s]
    last = list(intervals(cook))[-1]
    assert last.turned_s == last.at_s + 600 - first_s
    assert "tracked" in barring(last)
    cook.log.aims.clear()
    assert next(intervals(cook)).turned_s is None


def test_who_followed_the_guide_is_believed_about_the_probe() -> None:
    followed = next(intervals(evidence(water_day(said="test: power"))))
    assert judged(followed)["probe"] is True
    assert judged(GOOD)["probe"] is None


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("wind", {"wind_ms": 3.0}),
        ("water-range", {"start_c": 29.0}),
        ("water-range", {"end_c": 96.0}),
        ("light-range", {"light": replace(GOOD.light, across_wm2=440.0), "before_wm2": 440.0}),
        ("light-steady", {"light": replace(GOOD.light, spread_wm2=101.0)}),
        ("tracked", {"turned_s": 2400.0, "caught": 0.8}),
        ("settled", {"before_wm2": 650.0}),
        ("settled", {"light": CLEAR_SKY, "before_wm2": None}),
        ("quiet", {"disturbed": True}),
        ("own-heat", {"own_heat": True}),
    ],
)
def test_a_condition_that_bars_keeps_the_interval_out(name: str, changed: dict[str, float]) -> None:
    spoilt: Interval = replace(GOOD, **changed)  # type: ignore[arg-type]
    assert barring(GOOD) == ()
    assert barring(spoilt) == (name,)
    rated = cooking_power([GOOD, spoilt])
    assert rated.intervals == (GOOD,)
    assert rated.barred == {name: 1}


@pytest.mark.parametrize(
    ("name", "changed", "state"),
    [
        ("air", {"ambient_c": 12.0}, False),
        ("midday", {"solar_h": 14.5}, False),
        ("load", {"kg_per_m2": 5.0}, False),
        ("load", {"kg_per_m2": None}, None),
        ("water", {"water": False}, False),
        ("tracked", {"turned_s": 2400.0, "caught": 0.97}, True),
        ("tracked", {"turned_s": None}, None),
        ("settled", {"before_wm2": None}, None),
        ("light-steady", {"light": replace(GOOD.light, spread_wm2=None)}, None),
        ("own-heat", {"own_heat": None}, None),
    ],
)
def test_other_conditions_are_told_and_bar_nothing(
    name: str, changed: dict[str, float], state: bool | None
) -> None:
    odd: Interval = replace(GOOD, **changed)  # type: ignore[arg-type]
    assert judged(odd)[name] is state
    assert barring(odd) == ()
    tally = cooking_power([odd]).conditions[name]
    assert (tally.met, tally.broken, tally.unknown) == tuple(
        state is s for s in (True, False, None)
    )


def test_nothing_gives_nothing() -> None:
    rated = cooking_power([])
    assert (rated.line, rated.power_w, rated.days) == (None, None, 0)
    assert set(rated.conditions) == set(CONDITIONS)
    assert not rated.by_the_standard


def test_a_level_sensor_is_never_called_across_the_beam() -> None:
    whole = [
        interval(40.0 + i, 44.0 + i, 800.0, 25.0, i, day=JUNE + timedelta(days=i % 3))
        for i in range(40)
    ]
    told = [replace(i, wind_ms=0.5, by_the_book=True) for i in whole]
    rated = cooking_power(told)
    broken = [name for name, tally in rated.conditions.items() if tally.broken or tally.unknown]
    assert broken == ["light-across"]
    assert not rated.by_the_standard


def test_points_over_one_x_or_too_few_make_no_line() -> None:
    assert straight_line(np.ones(5), np.arange(5.0)) is None
    assert straight_line(np.array([1.0, 2.0]), np.array([1.0, 2.0])) is None
    assert mean_of(np.array([1.0])) is None
    with pytest.raises(ValueError, match="0 degrees of freedom give no interval"):
        t95(0)
