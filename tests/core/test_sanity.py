"""Probes that do not show what they are called are told apart, and clean cooks show no sign."""

import math

import pytest

from noonpot.core.cook import EventKind
from noonpot.core.readings import Role
from noonpot.core.sanity_signs import SignKind
from probelife import (
    CLEAN,
    FOOD,
    LOAD_S,
    Life,
    air,
    board,
    core,
    dip,
    pot,
    towards,
)


@pytest.mark.parametrize("noise_c", [0.0, 0.05, 0.35])
def test_a_clean_cook_shows_no_sign(noise_c: float) -> None:
    life = Life(noise_c=noise_c)
    life.live(4 * 3600.0, CLEAN)
    assert life.first == {}


@pytest.mark.parametrize("tau_s", [15.0, 40.0, 120.0])
def test_a_core_that_leaves_the_food_is_seen_within_five_minutes(tau_s: float) -> None:
    life = Life()
    life.live(7200.0, CLEAN | {"core": towards(pot, 6000.0, tau_s=tau_s)})
    assert set(life.first) == {(SignKind.OUT, "core")}
    assert life.first[SignKind.OUT, "core"] - 6000.0 <= 300.0
    assert life.sanity.distrusted == {"core"}


def test_a_core_that_hangs_beside_the_cooker_is_told_by_the_air() -> None:
    life = Life()
    assert life.live(6400.0, CLEAN | {"core": towards(air, 6000.0)}) == {SignKind.OUT}
    (sign,) = life.sanity.signs
    assert sign.beside is Role.AMBIENT
    assert sign.beside_c == pytest.approx(25.0, abs=0.6)


def test_a_core_put_back_into_the_food_is_believed_again() -> None:
    life = Life()
    out = CLEAN | {"core": towards(pot, 6000.0)}
    assert life.live(6600.0, out) == {SignKind.OUT}
    back = CLEAN | {"core": towards(core, 6600.0, before=out["core"])}
    assert life.live(7200.0, back) == set()


@pytest.mark.parametrize("kind", [EventKind.LID, EventKind.SPOT, EventKind.LOAD])
def test_a_person_who_was_at_the_food_settles_it(kind: EventKind) -> None:
    life = Life()
    out = CLEAN | {"core": towards(pot, 6000.0)}
    assert life.live(6600.0, out) == {SignKind.OUT}
    life.tell(kind)
    assert life.live(6620.0, out) == set()


def test_stirring_that_brings_the_core_some_of_the_way_is_not_leaving() -> None:
    life = Life()

    def stirred(t: float) -> float:
        return core(t) + (0.3 * (pot(6000.0) - core(6000.0)) if t >= 6000.0 else 0.0)

    assert life.live(7200.0, CLEAN | {"core": stirred}) == set()


def test_a_spike_of_one_reading_leaves_no_sign() -> None:
    life = Life()

    def spiked(t: float) -> float:
        return pot(t) if t == 6000.0 else core(t)

    life.live(7200.0, CLEAN | {"core": spiked, "pot": lambda t: air(t) if t == 5000.0 else pot(t)})
    assert life.first == {}


def test_a_core_that_never_was_in_the_food_is_seen_after_a_quarter_of_an_hour() -> None:
    life = Life()
    life.live(LOAD_S + 1800.0, CLEAN | {"core": lambda t: pot(t - 30)})
    assert set(life.first) == {(SignKind.NEVER_IN, "core")}


def test_a_core_left_outside_from_the_beginning_is_seen_by_and_by() -> None:
    life = Life()
    life.live(LOAD_S + 6000.0, CLEAN | {"core": lambda t: air(t) + 0.5 * math.sin(t / 900)})
    assert set(life.first) == {(SignKind.NEVER_IN, "core")}


def test_a_core_that_leads_its_pot_is_swapped_with_it() -> None:
    life = Life()
    life.live(LOAD_S + 3600.0, CLEAN | {"core": pot, "pot": core})
    assert set(life.first) == {(SignKind.SWAPPED, "core")}
    assert "core" in life.sanity.distrusted


def test_hot_food_in_a_cold_pot_is_not_swapped() -> None:
    life = Life()

    def soup(t: float) -> float:
        return 25.0 if t < LOAD_S else 25 + 60 * math.exp(-(t - LOAD_S) / 9000)

    def cold(t: float) -> float:
        return 25.0 if t < LOAD_S else 25 + 30 * (1 - math.exp(-(t - LOAD_S) / 3000))

    life.live(LOAD_S + 7200.0, CLEAN | {"core": soup, "pot": cold})
    assert life.first == {}


def test_a_lid_that_nobody_announced_is_seen_and_its_end_too() -> None:
    life = Life()
    opened = CLEAN | {"pot": dip(pot, 6000.0, 180.0, 0.6, 60.0)}
    assert life.live(6120.0, opened) == {SignKind.LID}
    assert life.live(6600.0, opened) == set()


def test_a_cooker_blown_over_stays_without_its_heat() -> None:
    life = Life()
    assert life.live(9000.0, CLEAN | {"pot": dip(pot, 6000.0, 9e9, 0.8, 200.0)}) == {SignKind.LID}


def test_an_announced_lid_is_no_news() -> None:
    life = Life()
    life.live(5990.0, CLEAN)
    life.tell(EventKind.LID)
    life.live(6600.0, CLEAN | {"pot": dip(pot, 6000.0, 120.0, 0.6, 60.0)})
    assert life.first == {}


@pytest.mark.parametrize("long_s", [10.0, 60.0, 120.0, 3600.0])
def test_the_darkest_cloud_is_no_lid(long_s: float) -> None:
    """A light cooker without glass loses two thirds in 1300 s: our own ray-tracing and simulation
    of cookers, the fastest of sixteen.
    """
    life = Life()
    life.live(9000.0, CLEAN | {"pot": dip(pot, 6000.0, long_s, 1.0, 1300.0)})
    assert life.first == {}


def test_a_pot_that_stands_still_while_its_food_warms_is_stuck() -> None:
    life = Life()
    life.live(6000.0, CLEAN)
    stuck = CLEAN | {"pot": lambda _: pot(6000.0)}
    life.noise_c = 0.0
    life.live(8400.0, stuck)
    assert set(life.first) == {(SignKind.STUCK, "pot")}


def test_a_core_that_stands_still_in_a_hot_pot_is_stuck() -> None:
    life = Life(noise_c=0.0)
    life.live(LOAD_S + 9000.0, CLEAN | {"core": lambda t: 40.0 if t > LOAD_S + 900 else core(t)})
    assert set(life.first) == {(SignKind.STUCK, "core")}


def test_a_core_on_its_boiling_plateau_and_an_idle_cooker_at_night_are_not_stuck() -> None:
    life = Life(noise_c=0.0)
    life.live(LOAD_S + 9000.0, CLEAN | {"core": lambda t: min(core(t) + 20, 94.0)})
    assert life.first == {}
    night = Life(noise_c=0.0)
    night.loaded = True  # nothing is put in
    night.live(8 * 3600.0, dict.fromkeys(("pot", "core", "shade"), air), sunny=False, dark=True)
    assert night.first == {}


def test_a_pot_that_keeps_its_heat_to_the_last_bit_all_night_is_stuck() -> None:
    life = Life(noise_c=0.0)
    life.loaded = True
    life.live(1800.0, CLEAN | {"pot": lambda _: 80.0}, sunny=False, dark=True)
    assert set(life.first) == {(SignKind.STUCK, "pot")}


def test_a_covered_light_sensor_is_stuck_by_day_only() -> None:
    life = Life(noise_c=0.0)
    assert life.live(1200.0, CLEAN | {"sky": lambda _: 0.0}, sunny=False) == {SignKind.STUCK}
    night = Life(noise_c=0.0)
    assert night.live(1200.0, {"sky": lambda _: 0.0}, sunny=False, dark=True) == set()


@pytest.mark.parametrize("probe", ["pot", "core"])
def test_shorted_wires_show_their_board_and_nothing_else_is_blamed(probe: str) -> None:
    life = Life()
    life.live(LOAD_S + 7200.0, CLEAN | {probe: lambda t: board(t) + 0.4}, board=board)
    assert set(life.first) == {(SignKind.SHORTED, probe)}


def test_a_cold_pot_in_the_shade_at_its_boards_temperature_is_not_shorted() -> None:
    life = Life()
    life.loaded = True
    life.live(3 * 3600.0, {"pot": board, "shade": air}, board=board, sunny=False)
    assert life.first == {}


@pytest.mark.parametrize("probe", ["pot", "core"])
def test_reversed_wires_fall_when_heated(probe: str) -> None:
    life = Life()
    true = CLEAN[probe]
    life.live(LOAD_S + 3600.0, CLEAN | {probe: lambda t: 2 * board(t) - true(t)}, board=board)
    assert (SignKind.REVERSED, probe) in life.first
    assert {kind for kind, p in life.first if p == probe} == {SignKind.REVERSED}


def test_after_a_restart_the_same_signs_stand() -> None:
    """Events are remembered first, readings afterwards, as the watch does it."""
    life, again = Life(), Life()
    out = CLEAN | {"core": towards(pot, 6000.0)}
    assert life.live(6600.0, out) == {SignKind.OUT}
    again.loaded = True
    again.sanity.happen(EventKind.LOAD, LOAD_S, FOOD)
    assert again.live(6600.0, out) == {SignKind.OUT}
