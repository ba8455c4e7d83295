"""The simulated bus: what a person does happens, and all who look see the same, at any speed."""

import threading
import time
from datetime import date

import pytest

from fakes import FakeClock
from noonpot.clock import FastClock
from noonpot.core.readings import Defect, FaultKind, Measured, Role
from noonpot.core.station import Place
from noonpot.core.sun import DayTable
from noonpot.errors import BusError, CookError, SunTableError
from noonpot.ports import Bus, Surroundings
from noonpot_hw.simulated import open_bus
from simday import (
    HILL,
    JUNE,
    SimpleSun,
    at,
    column,
    event,
    open_garden,
    record_day,
    turns,
)


def shown(bus: Bus, address: str) -> float:
    answer = bus.read(address)
    assert isinstance(answer, Measured)
    return answer.value


# What a person does


def test_a_cooker_is_covered_until_somebody_begins() -> None:
    clock = FakeClock(at("08:00"))
    bus = open_garden({"cookers": [{"name": "a"}, {"name": "b"}], "noise_c": 0.0}, clock)
    clock.advance(7200)
    assert shown(bus, "a/pot") == pytest.approx(shown(bus, "ambient"), abs=2)
    bus.notice(event("a", "start", clock.moment().at))
    clock.advance(3600)
    assert shown(bus, "a/pot") > 80
    assert shown(bus, "b/pot") < 30
    bus.notice(event("a", "stop", clock.moment().at))
    clock.advance(4 * 3600)
    assert shown(bus, "a/pot") < 35


def test_a_core_probe_without_food_shows_the_air_in_the_pot() -> None:
    clock = FakeClock(at("10:00"))
    bus = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, clock)
    bus.notice(event("box", "start", clock.moment().at))
    clock.advance(3600)
    assert shown(bus, "box/core") == shown(bus, "box/pot")
    bus.notice(event("box", "load", clock.moment().at, food="bread", start_c=24))
    assert shown(bus, "box/core") == pytest.approx(24, abs=0.01)
    clock.advance(600)
    assert shown(bus, "box/core") < shown(bus, "box/pot") - 20
    bus.notice(event("box", "unload", clock.moment().at))
    assert shown(bus, "box/core") == shown(bus, "box/pot")


@pytest.mark.parametrize("kind", ["load", "unload"])
def test_to_put_food_in_or_out_the_lid_is_opened(kind: str) -> None:
    clock = FakeClock(at("10:00"))
    bus = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, clock)
    bus.notice(event("box", "start", clock.moment().at))
    clock.advance(3600)
    before = shown(bus, "box/pot")
    bus.notice(event("box", kind, clock.moment().at, food="bread", start_c=before))
    clock.advance(60)
    assert shown(bus, "box/pot") < before - 25
    clock.advance(600)
    assert shown(bus, "box/pot") > before - 20


def test_food_that_was_named_at_the_start_is_what_is_loaded() -> None:
    clock = FakeClock(at("10:00"))
    bus = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, clock)
    bus.notice(event("box", "start", clock.moment().at, food="bread"))
    bus.notice(event("box", "load", clock.moment().at, start_c=20))
    clock.advance(300)
    # The middle of a loaf feels nothing for minutes; a stew would be warmer by now.
    assert shown(bus, "box/core") == pytest.approx(20, abs=0.05)


def test_events_of_other_cookers_and_mere_words_change_nothing() -> None:
    clock, other = FakeClock(at("10:00")), FakeClock(at("10:00"))
    bus, quiet = (open_garden({"cookers": [{"name": "box"}]}, c) for c in (clock, other))
    for it in (bus, quiet):
        it.notice(event("box", "start", at("10:00")))
    bus.notice(event("somebody-else", "lid", at("10:00")))
    bus.notice(event("box", "note", at("10:00"), text="smells good"))
    bus.notice(event("box", "spot", at("10:00"), core_c=40))
    clock.advance(600)
    other.advance(600)
    assert shown(bus, "box/pot") == shown(quiet, "box/pot")


def test_a_number_that_is_none_is_refused_by_name() -> None:
    bus = open_garden({"cookers": [{"name": "box"}]}, FakeClock(at("10:00")))
    with pytest.raises(CookError, match="mass_kg=much is not a number"):
        bus.notice(event("box", "load", at("10:00"), mass_kg="much"))


# One truth for every look, at any speed


@pytest.mark.parametrize("seed", [11, 12])
def test_looking_often_or_seldom_shows_the_same(seed: int) -> None:
    print(f"garden seed {seed}")
    options = {"seed": seed, "sky": "broken", "cookers": [{"name": "box"}], "noise_c": 0.2}
    script = [
        *turns("box", at("08:00"), at("11:00")),
        event("box", "load", at("09:30"), food="bread"),
    ]
    often = record_day(options, script, at("08:00"), at("11:00"), step_s=3.0)
    seldom = record_day(options, script, at("08:00"), at("11:00"), step_s=1200.0)
    for role in (Role.POT, Role.CORE, Role.AMBIENT, Role.IRRADIANCE):
        all_often = dict(column(often, role))
        assert [all_often[when] for when, _ in column(seldom, role)] == [
            v for _, v in column(seldom, role)
        ]


def test_noise_is_as_large_as_asked_for_and_differs_from_probe_to_probe() -> None:
    clock = FakeClock(at("10:00"))
    options = {"cookers": [{"name": "a"}, {"name": "b"}], "noise_c": 0.5, "wind_ms": 0}
    bus = open_garden(options, clock)
    differences = []
    for _ in range(400):
        clock.advance(5)
        differences.append(shown(bus, "a/pot") - shown(bus, "b/pot"))
    spread = (sum(d * d for d in differences) / len(differences)) ** 0.5
    assert spread == pytest.approx(0.5 * 2**0.5, rel=0.15)
    assert shown(bus, "a/pot") == shown(bus, "a/pot")


def test_a_day_of_two_cookers_costs_little() -> None:
    clock = FakeClock(at("08:00"))
    bus = open_garden({"cookers": [{"name": "a"}, {"name": "b", "pot": "heavy"}]}, clock)
    for name in ("a", "b"):
        bus.notice(event(name, "load", at("08:00"), food="bread"))
    begun = time.process_time()
    for _ in range(3600):
        clock.advance(10)
        for address in ("a/pot", "a/core", "b/pot", "b/core"):
            bus.read(address)
    spent = time.process_time() - begun
    print(f"ten hours of two cookers, read every 10 s: {spent:.2f} s of processor time")
    assert spent < 1.5


def test_any_speed_is_as_good_as_life() -> None:
    clock = FastClock(at("10:00"), rate=36_000.0)  # an hour in a tenth of a second
    clock.go()
    bus = open_bus({"cookers": [{"name": "box"}]}, Surroundings(clock, HILL, SimpleSun()))
    bus.notice(event("box", "start", at("10:00")))
    never = threading.Event()
    clock.wait(never, 2 * 3600)
    assert shown(bus, "box/pot") > 90


def test_threads_may_look_at_once() -> None:
    clock = FakeClock(at("10:00"))
    bus = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, clock)
    alone = FakeClock(at("10:00"))
    quiet = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, alone)
    for it in (bus, quiet):
        it.notice(event("box", "start", at("10:00")))
    clock.advance(4 * 3600)
    alone.advance(4 * 3600)
    values: list[float] = []
    threads = [
        threading.Thread(target=lambda: values.append(shown(bus, "box/pot"))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=10)
    assert values == [shown(quiet, "box/pot")] * 8


def test_a_jump_of_the_wall_clock_moves_no_sun() -> None:
    clock, steady = FakeClock(at("10:00")), FakeClock(at("10:00"))
    bus, quiet = (
        open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, c) for c in (clock, steady)
    )
    clock.step_wall(-10 * 3600)
    for c in (clock, steady):
        c.advance(3600)
    assert shown(bus, "irradiance") == shown(quiet, "irradiance") > 500


def test_a_night_passes_and_the_next_day_is_as_warm() -> None:
    clock = FakeClock(at("12:00"))
    bus = open_garden({"cookers": [{"name": "box"}], "noise_c": 0.0}, clock)
    noon = shown(bus, "irradiance")
    clock.advance(12 * 3600)
    assert shown(bus, "irradiance") == 0
    clock.advance(12 * 3600)
    assert shown(bus, "irradiance") == pytest.approx(noon, rel=0.05)


# The bus


def test_a_scan_lists_every_probe_of_every_cooker() -> None:
    bus = open_garden({"cookers": [{"name": "a"}, {"name": "b"}]}, FakeClock(at("10:00")))
    found = [f.address for f in bus.scan()]
    assert found == ["a/pot", "a/core", "b/pot", "b/core", "ambient", "irradiance"]
    assert all(isinstance(bus.read(address), Measured) for address in found)
    bus.close()


def test_a_probe_that_is_not_there_does_not_answer() -> None:
    bus = open_garden({"cookers": [{"name": "box"}]}, FakeClock(at("10:00")))
    assert bus.read("box/pott") == Defect(
        FaultKind.NOT_ANSWERING, "there is no 'box/pott' in the garden; did you mean box/pot?"
    )


class LostSun(SimpleSun):
    """A sun table that can be had for the first day only, until it is found again."""

    found = False

    def day(self, place: Place, day: date) -> DayTable:
        if not self.found and day > JUNE:
            raise SunTableError("the helper process did not answer; is pvlib installed?")
        return super().day(place, day)


def test_a_sun_that_cannot_be_had_is_a_defect_and_the_garden_waits() -> None:
    clock = FakeClock(at("22:00"))
    sun = LostSun()
    bus = open_bus({"cookers": [{"name": "box"}], "noise_c": 0.0}, Surroundings(clock, HILL, sun))
    clock.advance(3 * 3600)
    answer = bus.read("box/pot")
    assert answer == Defect(
        FaultKind.DRIVER_ERROR, "the helper process did not answer; is pvlib installed?"
    )
    bus.notice(event("box", "start", clock.moment().at))
    sun.found = True
    assert isinstance(bus.read("box/pot"), Measured)


def test_without_a_sun_the_bus_does_not_open() -> None:
    with pytest.raises(BusError, match="simulated: the helper process did not answer"):
        open_bus(
            {"cookers": [{"name": "box"}]},
            Surroundings(FakeClock(at("10:00", date(2026, 6, 4))), HILL, LostSun()),
        )
