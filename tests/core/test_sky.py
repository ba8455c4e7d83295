"""Skies as a process: bounded, calm at both ends, and believed only as far as they were seen."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core import sky

PROCESS = sky.SkyProcess()
N = 400
STEPS = np.full(18, 600.0)


def after(*indices: float, sd: float = 0.03) -> sky.SkyBelief:
    belief = sky.start(np.full(N, 1.05), PROCESS)
    for index in indices:
        belief = sky.observe(belief, np.full(N, index), sd, 600.0, PROCESS)
    return belief


def ahead(belief: sky.SkyBelief, seed: int = 1) -> np.ndarray:
    return sky.futures(belief, STEPS, np.random.default_rng(seed), PROCESS)


def test_a_sky_that_was_clear_for_hours_mostly_stays_so() -> None:
    hour = ahead(after(*[1.05] * 18))[:, 5]
    assert np.median(hour) > 1.0
    assert np.quantile(hour, 0.1) > 0.7


def test_an_overcast_sky_mostly_stays_so() -> None:
    assert np.median(ahead(after(*[0.25] * 18))[:, 5]) < 0.5


def test_a_broken_sky_leaves_more_open_than_a_clear_one() -> None:
    broken, clear = (ahead(after(*x))[:, 5] for x in ([0.4, 0.9, 0.5, 1.0] * 4, [1.05] * 16))
    wide, narrow = (np.ptp(np.quantile(x, [0.1, 0.9])) for x in (broken, clear))
    assert wide > 1.5 * narrow


def test_an_index_that_nobody_saw_teaches_nothing() -> None:
    belief, blind = after(0.5), after(0.5, float("nan"))
    assert blind.parts == pytest.approx(belief.parts * PROCESS.keep(600.0), abs=1e-3)


def test_the_same_seed_gives_the_same_skies() -> None:
    assert (ahead(after(0.8), 5) == ahead(after(0.8), 5)).all()
    assert (ahead(after(0.8), 5) != ahead(after(0.8), 6)).any()


@given(st.lists(st.floats(0, 1.4) | st.just(float("nan")), max_size=20), st.floats(0.01, 0.2))
def test_futures_stay_between_overcast_and_clear(seen: list[float], sd: float) -> None:
    futures = ahead(after(*seen, sd=sd))
    assert np.isfinite(futures).all()
    assert futures.min() >= sky.OVERCAST
    assert futures.max() <= 1.05 + 1e-12
