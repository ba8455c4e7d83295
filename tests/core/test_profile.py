"""Profiles of cookers: what six cooks tell, what a rebuild did, where no sensor saw the sky."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from noonpot.core.balance import balance_of, heat_j_per_k, with_sky
from noonpot.core.belief import Belief
from noonpot.core.calmsky import calm_blocks, clear_hours
from noonpot.core.clearhours import fitted_by_clear_hours
from noonpot.core.evidence import Evidence
from noonpot.core.profile import (
    QUANTITIES,
    Profile,
    balances,
    changes,
    profile,
)
from noonpot.core.readings import Role
from noonpot.core.recording import Recording
from noonpot.core.straightfit import straight_fit
from noonpot.core.straightline import Estimate
from noonpot_hw.cooker_physics import KINDS
from ratings import SPEC, all_of, blind, evidence, water_day


@cache
def six_days() -> list[Recording]:
    """Three clear, three broken."""
    clear = [water_day(n, empty_h=2) for n in range(3)]
    return clear + [water_day(n, sky="broken", empty_h=1) for n in range(3, 6)]


def profiled(cooks: list[Evidence]) -> Profile:
    known = profile(SPEC, balances(cooks))
    assert known is not None
    return known


@pytest.fixture(scope="module")
def known() -> Profile:
    return profiled(all_of(six_days()))


@pytest.fixture(scope="module")
def unseen() -> Profile:
    return profiled(all_of([blind(day, Role.IRRADIANCE) for day in six_days()]))


def holds(number: Estimate, truth: float) -> bool:
    return number.low <= truth <= number.high


def test_six_cooks_tell_what_the_garden_is_built_of(known: Profile) -> None:
    kind = KINDS["box"]
    assert known.cooks == 6
    assert known.measured
    assert holds(known.numbers["optical_gain"], kind.efficiency)
    assert holds(known.numbers["heat_capacity_j_k"], kind.capacity * 0.25 + 540 + 120)
    assert holds(known.numbers["acceptance_deg"], 30.0)
    # at rest in 900 W/m²: box so far above the air that it loses what it gets, the pot still hotter
    box = np.linspace(0, 200, 2001)
    loss = kind.loss * (1 + 1.5 * kind.loss_wind) * (1 + kind.loss_warmth * box) * box
    rest = float(np.interp(kind.efficiency * 900, loss, box))
    pot_c = 25 + rest + kind.on_pot * kind.efficiency * 900 * 0.25 / 2.3
    assert holds(known.numbers["stagnation_c"], pot_c)


def test_without_a_sensor_the_intervals_are_wider_and_still_hold(
    known: Profile, unseen: Profile
) -> None:
    assert not unseen.measured
    kind = KINDS["box"]
    truth = {"optical_gain": kind.efficiency, "heat_capacity_j_k": kind.capacity * 0.25 + 660}
    for name, value in truth.items():
        assert holds(unseen.numbers[name], value)
    seen, guessed = known.numbers["stagnation_c"], unseen.numbers["stagnation_c"]
    assert guessed.high - guessed.low > seen.high - seen.low


def test_a_forecast_doubts_a_profile_whose_sky_nobody_measured(
    known: Profile, unseen: Profile
) -> None:
    assert known.ahead is known.belief
    assert (np.diag(unseen.ahead.cov) >= np.diag(unseen.belief.cov)).all()
    assert unseen.ahead.cov[0, 0] > unseen.belief.cov[0, 0]


def test_the_sky_as_understood_is_given_back_to_the_cook(unseen: Profile) -> None:
    cook, case = evidence(blind(six_days()[0], Role.IRRADIANCE)), unseen.used[0]
    assert case is not None
    begin_s = cook.log.loads[0].at_s - 3600
    assert cook.light(begin_s, begin_s + 600) is None
    shone = with_sky(cook, case).light(begin_s, begin_s + 600)
    measured = evidence(six_days()[0]).light(begin_s, begin_s + 600)
    assert shone is not None
    assert measured is not None
    assert shone.across_wm2 == pytest.approx(measured.across_wm2, rel=0.08)


def test_one_cook_that_was_never_off_the_sun_says_so(known: Profile) -> None:
    assert not known.off_sun
    assert profiled(all_of(six_days()[:1])).cooks == 1


def test_nothing_tells_nothing() -> None:
    assert profile(SPEC, []) is None
    nobody = evidence(replace(six_days()[0], rows=six_days()[0].rows[:1]))
    assert balances([nobody]) == [None]
    assert profile(SPEC, [None]) is None


def test_what_was_not_changed_is_no_real_change(known: Profile) -> None:
    days = [water_day(n, empty_h=2) for n in range(6, 9)]
    days += [water_day(n, sky="broken", empty_h=1) for n in range(9, 12)]
    again = profiled(all_of(days))
    assert not any(change.real for change in changes(known, again).values())


def test_a_better_cooker_is_a_real_change(known: Profile) -> None:
    better = replace(known, belief=Belief(known.belief.mean + 0.4 * np.eye(8)[0], known.belief.cov))
    hotter = changes(known, better)["stagnation_c"]
    assert hotter.real
    assert hotter.ratio.value == pytest.approx(np.exp(0.4), rel=0.15)
    assert not changes(known, better)["acceptance_deg"].real


def test_every_number_has_words_and_an_interval(known: Profile) -> None:
    assert set(known.numbers) == set(QUANTITIES)
    assert all(n.low < n.value < n.high for n in known.numbers.values())
    assert known.first_merit == pytest.approx((known.numbers["stagnation_c"].value - 25) / 900)


def test_blocks_near_boiling_are_not_used() -> None:
    case = balance_of(evidence(six_days()[0]).log)
    assert case is not None
    assert case.use[:10].all()
    assert not case.use[-6:].any()


def test_water_holds_what_water_holds() -> None:
    (loaded,) = evidence(six_days()[0]).log.loads
    assert heat_j_per_k(loaded) == pytest.approx(1.75 * 4186)
    assert heat_j_per_k(replace(loaded, food="soup")) < heat_j_per_k(loaded)


def test_without_calm_hours_no_hour_is_taken_for_clear(known: Profile) -> None:
    case = balance_of(evidence(blind(six_days()[3], Role.IRRADIANCE)).log)
    assert case is not None
    torn = replace(case, rise_k=case.rise_k + 9 * np.where(np.arange(len(case.use)) % 2, 1, -1))
    (chosen,) = clear_hours([torn], known.belief)
    assert not np.isfinite(chosen.index).any()
    _, used = fitted_by_clear_hours(known.belief, [torn])
    assert not np.isfinite(used[0].index).any()


def test_a_sky_that_moves_is_not_calm() -> None:
    assert not calm_blocks(np.array([1.0, 0.8, 1.0, 0.8, 1.0])).any()
    assert not calm_blocks(np.array([1.0, 1.0])).any()
    assert not calm_blocks(np.array([1.0, 1.0, np.nan, 1.0, 1.0])).any()


def test_a_straight_model_is_fitted_exactly() -> None:
    prior = Belief.of(np.array([0.0, 1.0]), np.array([1.0, 2.0]))
    slopes, seen, sd = (
        np.array([[1.0, 0.5], [0.0, 1.0], [2.0, 1.0]]),
        np.array([0.4, 1.2, 1.5]),
        0.8,
    )
    starts = prior.draw(20, np.random.default_rng(1))
    found = straight_fit(prior, lambda x: (x @ slopes.T - seen) / sd, starts)
    cov = np.linalg.inv(np.linalg.inv(prior.cov) + slopes.T @ slopes / sd**2)
    mean = cov @ (np.linalg.inv(prior.cov) @ prior.mean + slopes.T @ seen / sd**2)
    assert found.mean == pytest.approx(mean, abs=0.01)
    assert found.cov == pytest.approx(cov, rel=0.1, abs=0.02)
