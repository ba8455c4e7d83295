"""The sky of a plan: what a word means, and how much it leaves open."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.insight import TOP_INDEX
from noonpot.core.skykind import LEVELS, SkyKind, sky_named
from noonpot.errors import CookError

STEPS = np.full(100, 300.0)


def drawn(kind: SkyKind, seed: int = 1) -> np.ndarray:
    return kind.draw(STEPS, 200, np.random.default_rng(seed))


@pytest.mark.parametrize("percent", [20, 40, 60, 80, 95])
def test_a_percentage_is_the_mean_light_of_the_day(percent: int) -> None:
    assert drawn(sky_named(f"{percent}%")).mean() / TOP_INDEX == pytest.approx(
        percent / 100, abs=0.06
    )


def test_a_clear_sky_is_calm_and_an_overcast_one_dark() -> None:
    assert np.quantile(drawn(sky_named("clear")), 0.05) > 0.9
    assert np.quantile(drawn(sky_named("overcast")), 0.9) < 0.5


def test_broken_cloud_changes_more_within_the_hour_than_a_clear_sky() -> None:
    broken, clear = (
        np.abs(np.diff(drawn(sky_named(n)), axis=1)).mean() for n in ("broken", "clear")
    )
    assert broken > 5 * clear


def test_the_typical_sky_holds_clear_and_grey_days() -> None:
    days = drawn(sky_named("typical")).mean(axis=1)
    assert np.quantile(days, 0.1) < 0.4
    assert np.quantile(days, 0.9) > 0.9


@given(st.floats(1, 100), st.floats(1, 100), st.integers(0, 9))
def test_a_lighter_day_is_lighter_throughout(one: float, other: float, seed: int) -> None:
    dark, light = sorted((one, other))
    assert (drawn(sky_named(str(light)), seed) >= drawn(sky_named(str(dark)), seed) - 1e-9).all()


def test_days_of_a_file_are_followed_and_each_is_as_likely() -> None:
    rise = np.linspace(0.3, 1.0, len(STEPS))
    skies = drawn(SkyKind("file", days=np.array([rise, rise[::-1]])))
    rising = skies[:, -1] > skies[:, 0]
    assert rising.sum() == 100
    assert np.abs(skies[rising].mean(axis=0) - rise).max() < 0.12


def test_a_word_may_be_written_in_any_way() -> None:
    assert sky_named(" Clear ").share == 1.0
    assert sky_named("70 %").share == sky_named("70").share == 0.7
    assert {sky_named(name).share for name in LEVELS} == set(LEVELS.values())


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("clar", "--sky is 'clar', but must be a kind of sky, .* did you mean clear\\?"),
        ("0%", "--sky is '0%', but must be above 0 and at most 100%"),
        ("130%", "must be above 0 and at most 100%"),
        ("nan", "must be above 0 and at most 100%"),
    ],
)
def test_a_sky_that_is_none_is_told(text: str, sentence: str) -> None:
    with pytest.raises(CookError, match=sentence):
        sky_named(text)
