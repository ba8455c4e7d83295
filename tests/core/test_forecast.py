"""The forecast: right on easy days, honest on others, and never from the future."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cooks import FOODS, KETTLE, MAKE, TABLES, done_at, hear, recorded
from noonpot.core import cooker, futures, load
from noonpot.core.cook import Event, EventKind
from noonpot.core.forecast import Forecast, Forecaster
from noonpot.core.learning import Knowledge, learn
from noonpot.core.readings import Role
from noonpot.core.recording import Recording
from noonpot.core.station import CookerSpec
from skies import EQUATOR, hour

SPEC = CookerSpec("box", 0.25, 30.0)
N = 40


def told(
    recording: Recording,
    now: datetime,
    knowledge: Knowledge | None = None,
    without: tuple[Role, ...] = (),
) -> Forecast | None:
    """The forecast at ``now``; the forecaster hears all rows up to then."""
    caster = Forecaster(SPEC, EQUATOR, TABLES, knowledge or Knowledge(), FOODS)
    hear(caster, recording, now, without)
    return caster.forecast(now)


@pytest.fixture(scope="module")
def bread() -> Recording:
    return recorded("bread")


@pytest.fixture(scope="module")
def taught() -> Knowledge:
    return learn(
        [recorded("bread", mass_kg=0.7, seed=5), recorded("bread", seed=6)], SPEC, TABLES, FOODS
    )


def test_on_a_clear_day_a_known_loaf_is_foreseen_early(bread: Recording, taught: Knowledge) -> None:
    said = told(bread, hour(9.5), taught)
    assert said is not None
    assert said.done_p50 is not None
    late = said.done_p50 - done_at(bread)
    assert abs(late) < timedelta(minutes=15)
    assert said.p_done > 0.9


@pytest.mark.parametrize(
    "without",
    [
        (Role.IRRADIANCE,),
        (Role.AMBIENT,),
        (Role.IRRADIANCE, Role.AMBIENT),
        (Role.CORE,),
        (Role.POT,),
    ],
)
def test_what_is_not_fitted_is_done_without(
    bread: Recording, taught: Knowledge, without: tuple[Role, ...]
) -> None:
    said = told(bread, hour(10), taught, without)
    assert said is not None
    assert said.done_p50 is not None
    assert abs(said.done_p50 - done_at(bread)) < timedelta(minutes=60)
    words = " ".join(said.reasons)
    assert ("core is an estimate" in words) == (Role.CORE in without)
    assert ("pot is an estimate" in words) == (Role.POT in without)


def test_under_thick_cloud_it_says_hardly() -> None:
    said = told(recorded("bread", index=0.3), hour(10))
    assert said is not None
    assert said.p_done < 0.25
    assert said.clear_sky_index == pytest.approx(0.3, abs=0.05)
    assert "thick cloud" in said.reasons[0]


@pytest.mark.parametrize("hours", [9.3, 10.2, 11.0])
def test_a_recording_cut_at_a_moment_says_the_same_of_it(
    bread: Recording, taught: Knowledge, hours: float
) -> None:
    now = hour(hours)
    whole = Forecaster(SPEC, EQUATOR, TABLES, taught, FOODS)
    hear(whole, bread, hour(24))  # it knows what comes, and must not use it
    assert whole.forecast(now) == told(bread, now, taught)


def test_what_was_asked_before_changes_nothing(bread: Recording) -> None:
    caster = Forecaster(SPEC, EQUATOR, TABLES, Knowledge(), FOODS)
    hear(caster, bread, hour(10))
    first = caster.forecast(hour(10))
    caster.forecast(hour(9.5))
    assert caster.forecast(hour(10)) == first


def test_food_that_is_done_is_done(bread: Recording) -> None:
    said = told(bread, done_at(bread) + timedelta(minutes=20))
    assert said is not None
    assert said.p_done == 1.0
    assert said.done_p50 is not None
    assert abs(said.done_p50 - done_at(bread)) < timedelta(minutes=3)


def test_after_the_sun_nothing_gets_done() -> None:
    said = told(recorded("bread", index=0.3), hour(18.5))
    assert said is not None
    assert (said.p_done, said.done_p50) == (0.0, None)


def test_without_a_load_there_is_nothing_to_say(bread: Recording) -> None:
    assert told(bread, hour(8.5)) is None
    caster = Forecaster(SPEC, EQUATOR, TABLES, Knowledge(), FOODS)
    hear(caster, bread, hour(10))
    caster.event(Event("box", hour(10), EventKind.UNLOAD))
    assert caster.forecast(hour(10)) is None


def test_a_second_load_starts_anew(bread: Recording) -> None:
    caster = Forecaster(SPEC, EQUATOR, TABLES, Knowledge(), FOODS)
    hear(caster, bread, hour(12))
    caster.event(
        Event("box", hour(12), EventKind.LOAD, {"food": "stew", "mass_kg": "1.0", "start_c": "20"})
    )
    for minute in range(20):
        caster.observe(hour(12) + timedelta(minutes=minute), 80.0, 20.0 + minute / 2, 22.0, 1000.0)
    said = caster.forecast(hour(12) + timedelta(minutes=20))
    assert said is not None
    assert said.target_c == 85.0
    assert said.p_done < 1.0


def test_a_reading_by_hand_counts_where_no_probe_is_in_the_food(
    bread: Recording, taught: Knowledge
) -> None:
    caster = Forecaster(SPEC, EQUATOR, TABLES, taught, FOODS)
    hear(caster, bread, hour(10), (Role.CORE,))
    before = caster.forecast(hour(10))
    caster.event(Event("box", hour(10) - timedelta(minutes=2), EventKind.SPOT, {"core_c": "30"}))
    after = caster.forecast(hour(10))
    assert before is not None
    assert after is not None
    assert before.done_p50 is not None
    assert after.done_p50 is not None
    assert after.done_p50 > before.done_p50 + timedelta(minutes=5)  # colder than was thought


def start(mass_kg: float = 0.8, food: str = "bread") -> futures.Start:
    ones = np.ones(N)
    spread = np.linspace(-0.2, 0.2, N)[:, None]
    kettle = cooker.Cooker.of(KETTLE + spread * np.eye(8)[0])
    wet = FOODS[food].wet
    what = load.FoodConstants.of(MAKE[food] + load.by_mass(mass_kg, wet) + spread * np.eye(6)[0])
    share = load.heat_j_per_k(mass_kg, wet) / kettle.capacity
    return futures.Start(
        kettle, what, load.start(24 * ones), 80 * ones, 60 * ones, 0 * ones, 0 * ones, share
    )


def end_of(begin: futures.Start, useful: np.ndarray) -> np.ndarray:
    steps = futures.time_steps(5 * 3600.0)
    return futures.run(begin, useful, steps, 22.0, 99.0, 85.0).reached_s


paths = st.lists(st.floats(100, 900), min_size=5, max_size=5)


def path(levels: list[float]) -> np.ndarray:
    count = len(futures.time_steps(5 * 3600.0))
    return np.tile(np.repeat(levels, -(-count // 5))[:count], (N, 1))


@given(paths, st.floats(0, 300))
def test_on_one_sky_more_sun_never_delays_the_end(levels: list[float], more: float) -> None:
    assert (end_of(start(), path(levels) + more) <= end_of(start(), path(levels)) + 5.0).all()


@given(paths, st.floats(0.3, 1.5), st.floats(1.0, 2.0), st.sampled_from(["bread", "stew"]))
def test_on_one_sky_a_heavier_load_never_hastens_the_end(
    levels: list[float], mass: float, more: float, food: str
) -> None:
    heavy, easy = (end_of(start(m, food), path(levels)) for m in (mass * more, mass))
    assert (heavy >= easy - 5.0).all()


cells = st.none() | st.floats(-60, 300) | st.just(float("nan"))
rows = st.tuples(st.floats(0, 600), cells, cells, cells, st.none() | st.floats(-10, 1500))


@settings(max_examples=60, deadline=None)
@given(st.lists(rows, min_size=1, max_size=60), st.floats(7, 17), st.integers(0, 59), st.booleans())
def test_no_recording_makes_it_say_nonsense(
    what: list[tuple[float, *tuple[float | None, ...]]], begin_h: float, loaded: int, known: bool
) -> None:
    caster = Forecaster(SPEC, EQUATOR, TABLES, Knowledge(), FOODS)
    at = hour(begin_h)
    caster.event(Event("box", at, EventKind.AIM, {"azimuth": "90", "elevation": "40"}))
    for i, (gap_s, *values) in enumerate(what):
        at += timedelta(seconds=gap_s)
        if i == min(loaded, len(what) - 1):
            food = {"food": "bread", "mass_kg": "0.5"} if known else {}
            caster.event(Event("box", at, EventKind.LOAD, food))
        caster.observe(at, *values)
    said = caster.forecast(at + timedelta(minutes=1))
    if said is None:
        return
    assert 0.0 <= said.p_done <= 1.0
    times = [said.done_p10, said.done_p50, said.done_p90]
    if said.p_done < 0.01:
        assert times == [None] * 3
    else:
        assert times == sorted(t for t in times if t is not None)
    assert said.clear_sky_index is None or 0.0 <= said.clear_sky_index <= 1.4
