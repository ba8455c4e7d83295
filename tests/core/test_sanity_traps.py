"""Leaps, clouds and cold food that once fooled the signs: what is believed, and what is not."""

import math

import pytest

from noonpot.core.cook import EventKind
from noonpot.core.sanity_signs import Food, SignKind
from probelife import (
    CLEAN,
    LOAD_S,
    STEP_S,
    Course,
    Life,
    air,
    board,
    core,
    dip,
    pot,
    raw,
    towards,
)


@pytest.mark.parametrize("tau_s", [40.0, 120.0])
def test_a_core_pulled_out_of_cold_food_is_not_believed_again_for_passing_the_air(
    tau_s: float,
) -> None:
    """From 12 °C to the pot it passes the air's 25 °C, and then keeps apart from it for good."""
    life = Life()
    assert life.live(5000.0, CLEAN | {"core": raw}) == set()
    out = CLEAN | {"core": towards(pot, 5000.0, before=raw, tau_s=tau_s)}
    assert SignKind.OUT in life.live(5000.0 + 6 * tau_s, out)
    for until_s in range(5900, 9000, 300):
        life.live(float(until_s), out)
        assert "core" in life.sanity.distrusted, until_s


@pytest.mark.parametrize("silent_s", [4000.0, 5100.0])
def test_a_core_pulled_out_while_the_pot_tells_nothing_is_seen_and_stays_so(
    silent_s: float,
) -> None:
    """The pot's probe is lost before the core is pulled out, or just after."""
    life = Life()
    life.live(min(5000.0, silent_s), CLEAN | {"core": raw})
    out = CLEAN | {"core": towards(pot, 5000.0, before=raw)}
    life.live(silent_s, out)
    del out["pot"]
    assert life.live(5400.0, out) == {SignKind.OUT}
    assert life.live(8000.0, out) == {SignKind.OUT}
    life.tell(EventKind.LID)
    assert life.live(8010.0, out) == set()


def test_food_that_warms_while_the_pot_tells_nothing_is_believed() -> None:
    life = Life()
    life.live(4000.0, CLEAN)
    life.live(4 * 3600.0, {"core": core, "shade": air})
    assert life.first == {}


@pytest.mark.parametrize("start_c", [20.0, None])
def test_probes_swapped_at_loading_under_a_cloud_are_seen(start_c: float | None) -> None:
    """What is called pot went into cold food; what is called core cools with the pot."""

    def clouded(t: float) -> float:
        hot_c = pot(min(t, LOAD_S))
        return hot_c if t < LOAD_S else 50 + (hot_c - 50) * math.exp(-(t - LOAD_S) / 600)

    def chilled(t: float) -> float:
        hot_c = pot(min(t, LOAD_S))
        gone = math.exp(-max(0.0, t - LOAD_S) / 60)
        return hot_c if t < LOAD_S else 15 + (hot_c - 15) * gone + (t - LOAD_S) / 1000

    life = Life()
    life.live(LOAD_S, {"core": clouded, "pot": chilled, "shade": air})
    life.loaded = True
    life.tell(EventKind.LOAD, Food(LOAD_S, mass_kg=1.0, start_c=start_c))
    life.live(LOAD_S + 1200.0, {"core": clouded, "pot": chilled, "shade": air})
    assert set(life.first) == {(SignKind.SWAPPED, "core")}


def test_a_hot_probe_put_into_cold_food_after_a_marked_lid_is_not_reversed() -> None:
    life = Life()
    out = CLEAN | {"core": pot}
    life.live(5000.0, out)
    life.tell(EventKind.LID)
    life.live(6500.0, CLEAN | {"core": towards(lambda _: 8.0, 5000.0, before=pot, tau_s=60.0)})
    assert SignKind.REVERSED not in {kind for kind, _ in life.first}


def test_rice_that_warms_with_its_pot_under_a_cloud_is_in_its_pot() -> None:
    """The pot is first above the rice, then below it: as warm in the mean, but not like metal."""
    life = Life()
    end_s = LOAD_S + 3600.0

    def clouded(t: float) -> float:
        return 60 + 12 * math.sin((t - LOAD_S) / 1100) - max(0.0, t - LOAD_S - 2700) / 60

    def rice(t: float) -> float:
        return 25.0 if t < LOAD_S else min(35 + (t - LOAD_S) / 100, clouded(t) + 1.0)

    life.live(end_s, CLEAN | {"core": rice, "pot": lambda t: clouded(max(t, LOAD_S))})
    assert (SignKind.NEVER_IN, "core") not in life.first


def test_a_frozen_core_that_is_mended_leaps_to_what_is_true() -> None:
    life = Life(noise_c=0.0)

    def frozen(t: float) -> float:
        return 8.0 if t < 7200.0 else 22.0 + (t - 7200.0) / 600

    life.live(7200.0, CLEAN | {"core": frozen})
    assert set(life.first) == {(SignKind.STUCK, "core")}
    assert life.live(9000.0, CLEAN | {"core": frozen}) == set()
    assert set(life.first) == {(SignKind.STUCK, "core")}


def test_wires_that_are_reversed_in_a_cook_leap_and_are_believed_once_put_right() -> None:
    """In a pot that is no hotter than what reversed wires show of cold food."""
    life = Life()
    true = CLEAN | {"core": raw, "pot": lambda t: min(pot(t), 48.0)}
    turned = true | {"core": lambda t: 2 * board(t) - raw(t)}
    assert life.live(5000.0, true, board=board) == set()
    assert life.live(6000.0, turned, board=board) == {SignKind.REVERSED}
    assert "core" in life.sanity.distrusted
    assert life.live(6200.0, true, board=board) == set()
    assert {kind for kind, _ in life.first} == {SignKind.REVERSED}


@pytest.mark.parametrize("long_s", [5.0, 9e9])
def test_a_bare_core_is_out_though_it_passes_the_mirrored_value(long_s: float) -> None:
    life = Life()
    life.live(5000.0, CLEAN | {"core": raw}, board=board)
    out = CLEAN | {"core": towards(pot, 5000.0, before=raw, tau_s=min(long_s + 40.0, 90.0))}
    assert life.live(5200.0, out, board=board) == {SignKind.OUT}


def test_an_announced_lid_that_is_never_closed_is_told_after_a_quarter_of_an_hour() -> None:
    life = Life()
    life.live(5990.0, CLEAN)
    life.tell(EventKind.LID)
    opened = CLEAN | {"pot": dip(pot, 6000.0, 9e9, 0.8, 120.0)}
    assert life.live(6000.0 + 880.0, opened) == set()
    assert life.live(6000.0 + 1100.0, opened) == {SignKind.LID}
    life.tell(EventKind.LID)
    assert life.live(7300.0, CLEAN) == set()


def test_an_announced_lid_that_is_closed_under_a_cloud_is_no_news() -> None:
    life = Life()
    life.live(5990.0, CLEAN)
    life.tell(EventKind.LID)

    def clouded(t: float) -> float:
        return 25 + (pot(t) - 25) * math.exp(-max(0.0, t - 6000.0) / 2000)

    life.live(9000.0, CLEAN | {"pot": dip(clouded, 6000.0, 120.0, 0.6, 60.0)})
    assert life.first == {}


def test_a_core_that_leaps_to_its_boards_temperature_is_shorted_within_minutes() -> None:
    life = Life()
    life.live(7200.0, CLEAN, board=board)
    shorted = CLEAN | {"core": lambda t: board(t) + 0.4}
    assert life.live(7200.0 + 420.0, shorted, board=board) == {SignKind.SHORTED}


@pytest.mark.parametrize(
    ("board_of", "kind"), [(board, SignKind.SHORTED), (None, SignKind.NEVER_IN)]
)
def test_a_core_at_the_airs_temperature_is_told_early_where_the_food_began_cold(
    board_of: Course | None, kind: SignKind
) -> None:
    life = Life()
    life.live(LOAD_S - STEP_S, CLEAN, board=board_of)
    life.loaded = True
    life.tell(EventKind.LOAD, Food(LOAD_S, mass_kg=1.0, start_c=8.0))
    beside = air if board_of is None else board
    life.live(LOAD_S + 2100.0, CLEAN | {"core": lambda t: beside(t) + 0.2}, board=board_of)
    assert set(life.first) == {(kind, "core")}


def test_cold_food_that_warms_through_the_airs_temperature_is_believed() -> None:
    life = Life()
    life.live(LOAD_S - STEP_S, CLEAN, board=board)
    life.loaded = True
    life.tell(EventKind.LOAD, Food(LOAD_S, mass_kg=1.0, start_c=8.0))
    life.live(4 * 3600.0, CLEAN | {"core": lambda t: max(8.0, core(t) - 12)}, board=board)
    assert life.first == {}


def test_probes_swapped_in_a_light_pot_are_told_by_the_cold_food() -> None:
    """Cold food chills the air of a light pot, too; but it is not as cold as the food."""
    life = Life()

    def heated(t: float) -> float:
        return pot(t) if t < LOAD_S else 28 + (t - LOAD_S) / 400

    def put_in(t: float) -> float:
        return pot(t) if t < LOAD_S else 10 + (pot(LOAD_S) - 10) * math.exp(-(t - LOAD_S) / 60)

    life.live(LOAD_S - STEP_S, {"core": heated, "pot": put_in, "shade": air})
    life.loaded = True
    life.tell(EventKind.LOAD, Food(LOAD_S, mass_kg=1.0, start_c=8.0))
    life.live(LOAD_S + 1200.0, {"core": heated, "pot": put_in, "shade": air})
    assert set(life.first) == {(SignKind.SWAPPED, "core")}


def test_probes_swapped_under_a_weak_sun_are_told_by_what_heats_what() -> None:
    """The pot was hardly warmer than the food and both warm slowly: little apart, but for long."""
    life = Life()

    def warmer(t: float) -> float:
        return 30.0 + max(0.0, t - LOAD_S) * 11 / 3600

    def colder(t: float) -> float:
        return 30.0 if t < LOAD_S else warmer(t) - 7.0

    life.live(LOAD_S - STEP_S, {"core": warmer, "pot": colder, "shade": air})
    life.loaded = True
    life.tell(EventKind.LOAD, Food(LOAD_S, mass_kg=1.0, start_c=22.0))
    life.live(LOAD_S + 2700.0, {"core": warmer, "pot": colder, "shade": air})
    assert set(life.first) == {(SignKind.SWAPPED, "core")}
