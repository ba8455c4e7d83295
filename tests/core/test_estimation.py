"""What can be learnt: against a posterior in closed form, and against known constants."""

import numpy as np
import pytest

from cooks import FOODS, KETTLE, MAKE, TABLES, recorded
from noonpot.core import load
from noonpot.core.belief import Belief, penalty, posterior
from noonpot.core.learning import Knowledge, learn
from noonpot.core.station import CookerSpec

SPEC = CookerSpec("box", 0.25, 30.0)


def test_for_a_straight_model_the_posterior_is_that_of_bayes() -> None:
    prior = Belief.of(np.array([0.0, 1.0]), np.array([1.0, 2.0]))
    slopes, seen, sd = (
        np.array([[1.0, 0.5], [0.0, 1.0], [2.0, 1.0]]),
        np.array([0.4, 1.2, 1.5]),
        0.8,
    )
    found, members = posterior(
        prior, lambda x: (x @ slopes.T - seen) / sd, np.random.default_rng(3), 4000, 3
    )
    exact_cov = np.linalg.inv(np.linalg.inv(prior.cov) + slopes.T @ slopes / sd**2)
    exact = exact_cov @ (np.linalg.inv(prior.cov) @ prior.mean + slopes.T @ seen / sd**2)
    assert found.mean == pytest.approx(exact, abs=0.05)
    assert np.cov(members.T) == pytest.approx(exact_cov, rel=0.25, abs=0.02)  # rounder tails


def test_no_data_leaves_the_prior() -> None:
    prior = Belief.of(np.array([3.0]), np.array([0.5]))
    found, members = posterior(prior, lambda x: 0 * x, np.random.default_rng(1), 500, 3)
    assert found.mean == pytest.approx(3.0, abs=0.1)
    assert members.std() == pytest.approx(0.5, rel=0.2)


def test_a_model_that_breaks_down_for_some_members_does_no_harm() -> None:
    def broken(x: np.ndarray) -> np.ndarray:
        return np.where(x > 0.5, np.nan, x + 1.0)

    prior = Belief.of(np.zeros(1), np.ones(1))
    found, members = posterior(prior, broken, np.random.default_rng(1), 300, 4)
    assert np.isfinite(members).all()
    assert found.mean[0] < 0


def test_far_misses_count_less_than_their_square() -> None:
    assert penalty(np.array(0.1)) == pytest.approx(0.005, rel=0.01)
    assert penalty(np.array(20.0)) < 40


@pytest.mark.parametrize("food", ["bread", "stew"])
def test_two_cooks_teach_how_the_food_warms_up(food: str) -> None:
    past = [recorded(food, seed=1), recorded(food, mass_kg=0.6, load_h=10.0, seed=2)]
    knowledge = learn(past, SPEC, TABLES, FOODS)
    mean, cov = (np.array(x) for x in knowledge.foods[food])
    prior_mean, prior_sd = load.prior(FOODS[food].wet)
    outer_sd = float(np.sqrt(cov[0, 0]))
    assert abs(mean[0] - MAKE[food][0]) < abs(prior_mean[0] - MAKE[food][0]) + 0.1
    assert outer_sd < 0.8 * prior_sd[0]


@pytest.mark.parametrize("sensor", [True, False])
def test_clear_days_teach_how_hot_the_cooker_gets(sensor: bool) -> None:
    past = [recorded(seed=s, sensor=sensor) for s in (1, 2, 3)]
    knowledge = learn(past, SPEC, TABLES, FOODS)
    assert knowledge.cooker is not None
    assert knowledge.cooker[0][0] == pytest.approx(
        KETTLE[0], abs=0.25
    )  # log of stagnation per light


def test_nothing_to_learn_from_is_no_trouble() -> None:
    assert learn([], SPEC, TABLES, FOODS) == Knowledge()


def test_one_cook_after_the_other_teaches_what_all_at_once_do() -> None:
    first, second = recorded(seed=1), recorded(seed=2)
    one = learn([second], SPEC, TABLES, FOODS, learn([first], SPEC, TABLES, FOODS))
    both = learn([first, second], SPEC, TABLES, FOODS)
    assert (one.cooks, one.habit) == (both.cooks, both.habit)
    assert one.cooker is not None
    assert both.cooker is not None
    assert one.cooker[0][0] == pytest.approx(both.cooker[0][0], abs=0.05)


def test_the_habit_of_turning_is_learnt() -> None:
    habit = learn([recorded()], SPEC, TABLES, FOODS).habit
    assert habit.every_s == pytest.approx(1800)
    assert habit.share > 0.6
