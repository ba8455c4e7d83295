"""One cooker watched: readings and events in, facts, alarms and alerts out."""

from dataclasses import replace

import pytest

from engine.kitchen import HOUSE, daylight, event, morning, reading, watch_at
from fakes import FakeClock
from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Alert
from noonpot.core.cook import EventKind
from noonpot.core.readings import Fault, FaultKind, Role
from noonpot.core.station import ProbeSpec
from noonpot.engine.daylight import Daylight
from noonpot.engine.memory import Memory
from noonpot.engine.watch import Outcome, Watch
from noonpot.errors import CookError
from simday import HILL, SimpleSun, at


def heat(watch: Watch, clock: FakeClock, probe: str, value: float, seconds: float) -> list[Outcome]:
    """The probe shows a value for so many seconds, read every two."""
    outcomes = []
    for _ in range(int(seconds // 2)):
        now = clock.advance(2)
        outcomes.append(watch.step(now, [reading(probe, now, value)]))
    return outcomes


def told(outcomes: list[Outcome]) -> list[str]:
    return [alert.alarm for outcome in outcomes for alert in outcome.alarms.alerts]


def test_a_pot_that_holds_its_heat_is_told_once_to_be_ready() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    assert told(heat(watch, clock, "box-pot", 112.0, 58)) == []
    assert told(heat(watch, clock, "box-pot", 112.0, 600)) == ["preheated"]


def test_loading_answers_preheated_and_unloading_answers_done() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    heat(watch, clock, "box-pot", 112.0, 120)
    watch.take(event(EventKind.LOAD, clock.moment(), mass_kg="0.6"), clock.moment())
    assert watch.records["preheated"].state is AlarmState.ACKNOWLEDGED
    heat(watch, clock, "box-core", 30.0, 10)
    outcomes = heat(watch, clock, "box-core", 95.0, 300)
    assert told(outcomes) == ["done"]
    alert = next(a for o in outcomes for a in o.alarms.alerts)
    assert "core 95 °C" in alert.text
    watch.take(event(EventKind.UNLOAD, clock.moment()), clock.moment())
    heat(watch, clock, "box-core", 40.0, 120)
    assert watch.records["done"].state is AlarmState.NORMAL


def test_a_probe_still_hot_from_the_pot_is_not_a_loaf_that_is_done() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    assert told(heat(watch, clock, "box-core", 105.0, 600)) == []
    for core_c in range(30, 96, 5):  # as food warms; a leap would be a probe out of it
        assert told(heat(watch, clock, "box-core", float(core_c), 60)) == []
    assert told(heat(watch, clock, "box-core", 95.0, 130)) == ["done"]


def test_a_pot_that_cold_food_chills_for_a_while_is_not_a_loaf_that_is_done() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    heat(watch, clock, "box-core", 70.0, 120)
    assert told(heat(watch, clock, "box-core", 99.0, 1190)) == []


def test_food_that_went_in_hot_is_done_once_the_probe_had_time_to_cool() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    assert told(heat(watch, clock, "box-core", 95.0, 1190)) == []
    assert told(heat(watch, clock, "box-core", 95.0, 60)) == ["done"]


def test_a_meal_told_at_the_start_sets_the_rescue_time_also_after_a_restart() -> None:
    clock = morning()
    sky = daylight(clock.moment().at)
    first = watch_at(clock, sky)
    meal = {"food": "bread", "meal": "2026-06-03T13:00:00Z"}
    first.take(event(EventKind.START, clock.moment(), **meal), clock.moment())
    first.take(event(EventKind.LOAD, clock.moment(), mass_kg="0.6"), clock.moment())
    first.step(clock.moment(), [reading("box-pot", clock.moment(), 60.0)])
    foreseen = first.foresee(clock.advance(60))
    assert foreseen is not None
    assert foreseen.rescue_because == "meal"
    assert foreseen.rescue_at is not None
    assert foreseen.rescue_at < at("12:45")

    second = watch_at(clock, sky)
    past = [reading("box-pot", clock.moment(), 60.0)]
    second.restore(first.cook, first.records.values(), Memory(samples=past))
    again = second.foresee(clock.moment())
    assert again is not None
    assert again.rescue_because == "meal"


def test_a_second_load_is_judged_anew() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    heat(watch, clock, "box-core", 30.0, 10)
    assert told(heat(watch, clock, "box-core", 95.0, 300)) == ["done"]
    watch.take(event(EventKind.LOAD, clock.advance(60), food="bread"), clock.moment())
    assert told(heat(watch, clock, "box-core", 40.0, 300)) == []
    assert watch.records["done"].state is AlarmState.NORMAL
    assert told(heat(watch, clock, "box-core", 95.0, 300)) == ["done"]


def test_of_several_core_probes_the_coldest_decides() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    for _ in range(200):
        now = clock.advance(2)
        outcome = watch.step(
            now, [reading("box-core", now, 95.0), reading("box-core-2", now, 80.0)]
        )
        assert outcome.alarms.alerts == ()
    assert outcome.facts.core_c == 80.0


def test_an_old_reading_says_nothing_of_now() -> None:
    clock = morning()
    watch = watch_at(clock)
    heat(watch, clock, "box-pot", 90.0, 10)
    assert watch.facts(clock.advance(HOUSE.limits.fresh_s)).pot_c == 90.0
    assert watch.facts(clock.advance(1)).pot_c is None


def test_silence_of_five_minutes_is_told_and_ends_with_the_readings() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="stew"), clock.moment())
    heat(watch, clock, "box-pot", 60.0, 10)
    outcomes = [watch.step(clock.advance(10)) for _ in range(31)]
    assert told(outcomes) == ["no-news"]
    heat(watch, clock, "box-pot", 60.0, 120)
    assert watch.records["no-news"].state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_a_restart_in_the_silence_neither_ends_nor_repeats_what_was_answered() -> None:
    clock = morning()
    first = watch_at(clock)
    first.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    assert told([first.step(clock.advance(400))]) == ["no-news"]
    first.take(event(EventKind.ACKNOWLEDGE, clock.moment(), alarm="no-news"), clock.moment())
    second = watch_at(clock)
    second.restore(first.cook, first.records.values())
    assert told([second.step(clock.advance(10)) for _ in range(60)]) == []
    silent = second.records["no-news"]
    heat(second, clock, "box-pot", 40.0, 90)
    heard = second.records["no-news"]
    assert (silent.state, heard.state) == (AlarmState.ACKNOWLEDGED, AlarmState.NORMAL)


def test_a_standing_fault_is_told_with_its_cure() -> None:
    clock = morning()
    watch = watch_at(clock)
    alerts: list[Alert] = []
    for _ in range(10):
        now = clock.advance(2)
        fault = Fault("box-core", now.at, now.mono_s, FaultKind.OPEN_CIRCUIT)
        alerts += watch.step(now, (), [fault]).alarms.alerts
    assert [a.alarm for a in alerts] == ["probe"]
    assert "box-core" in alerts[0].text
    assert "screws" in alerts[0].text


def test_the_sun_moves_on_until_turning_is_worth_the_walk() -> None:
    clock = morning()
    watch = watch_at(clock)
    sun = SimpleSun().day(HILL, clock.moment().at.date()).at(clock.moment().at)
    aim = {"azimuth": f"{sun.azimuth_deg}", "elevation": f"{sun.elevation_deg}"}
    watch.take(event(EventKind.AIM, clock.moment(), **aim), clock.moment())
    minutes = 0
    while "turn" not in told([watch.step(clock.advance(60))]):
        minutes += 1
        assert minutes < 120
    # at 11° a turn gives mirrors of 30° acceptance a quarter more light; the sun does 15° an hour
    assert 42 <= minutes <= 60


def test_without_a_trusted_clock_turning_is_suppressed_and_heat_alarms_go_on() -> None:
    clock = morning()
    clock.trust(False)
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    watch.take(event(EventKind.AIM, clock.moment(), azimuth="10", elevation="10"), clock.moment())
    assert told(heat(watch, clock, "box-pot", 120.0, 120)) == ["preheated"]
    assert watch.records["turn"].state is AlarmState.SUPPRESSED


def test_a_restart_before_the_sun_table_is_there_tells_no_turn_twice() -> None:
    clock = morning()
    first = watch_at(clock)
    first.take(event(EventKind.AIM, clock.moment(), azimuth="10", elevation="10"), clock.moment())
    assert told([first.step(clock.advance(2)), first.step(clock.advance(5))]) == ["turn"]
    sky = Daylight(HILL, SimpleSun())  # not fetched yet
    second = watch_at(clock, sky)
    second.restore(first.cook, first.records.values())
    assert told([second.step(clock.advance(2))]) == []
    assert second.records["turn"].state is AlarmState.UNACKNOWLEDGED
    sky.fetch(clock.moment().at)
    assert told([second.step(clock.advance(2))]) == []


def test_a_second_start_is_refused_and_changes_nothing() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    with pytest.raises(CookError, match="a cook is running since 2026-06-03T09:00:00Z; stop it"):
        watch.take(event(EventKind.START, clock.moment(), food="stew"), clock.moment())
    assert watch.cook is not None
    assert watch.cook.food == "bread"


def test_a_stop_ends_the_cook_and_every_alarm_comes_to_rest() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    heat(watch, clock, "box-pot", 112.0, 120)
    watch.take(event(EventKind.STOP, clock.moment()), clock.moment())
    (outcome, *_) = heat(watch, clock, "box-pot", 50.0, 120)
    assert [c.running for c in outcome.cooks] == [False]
    states = {r.state for r in watch.records.values()}
    assert states == {AlarmState.NORMAL}


def test_shelving_and_acknowledging_reach_the_alarm_they_name() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    heat(watch, clock, "box-pot", 112.0, 120)
    watch.take(event(EventKind.ACKNOWLEDGE, clock.moment(), alarm="preheated"), clock.moment())
    assert watch.records["preheated"].state.value == "acknowledged"
    watch.take(
        event(EventKind.SHELVE, clock.moment(), alarm="preheated", minutes="1"), clock.moment()
    )
    heat(watch, clock, "box-pot", 112.0, 50)
    assert watch.records["preheated"].state.value == "shelved"


def test_an_unknown_alarm_cannot_be_acknowledged() -> None:
    clock = morning()
    watch = watch_at(clock)
    with pytest.raises(CookError, match="did you mean done"):
        watch.take(event(EventKind.ACKNOWLEDGE, clock.moment(), alarm="dune"), clock.moment())


def test_taking_up_a_cook_repeats_no_alert() -> None:
    clock = morning()
    first = watch_at(clock)
    first.take(event(EventKind.START, clock.moment(), food="bread"), clock.moment())
    heat(first, clock, "box-pot", 112.0, 120)
    second = watch_at(clock)
    second.restore(first.cook, first.records.values())
    assert told(heat(second, clock, "box-pot", 112.0, 600)) == []
    assert second.records["preheated"].state is AlarmState.UNACKNOWLEDGED


def test_the_target_is_lowered_where_water_boils_too_cool() -> None:
    clock = morning()
    watch = watch_at(clock)  # 1600 m: water boils at 94.65 °C, and a crumb stays 2 K below it
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread"), clock.moment())
    target_c = watch.facts(clock.moment()).target_c
    assert target_c == pytest.approx(92.65, abs=0.01)


def test_of_two_light_sensors_the_brighter_counts_and_of_two_cores_the_colder() -> None:
    clock = morning()
    probes = [
        ProbeSpec(f"box-{role}-{n}", role, "wires", f"{role}{n}", "box")
        for role in (Role.IRRADIANCE, Role.CORE)
        for n in (1, 2)
    ]
    house = replace(HOUSE, station=replace(HOUSE.station, probes=tuple(probes)))
    watch = Watch(house.station.cookers[0], house, daylight(clock.moment().at), clock.moment())
    now = clock.advance(2)
    values = {"irradiance-1": 820.0, "irradiance-2": 300.0, "core-1": 61.0, "core-2": 58.0}
    facts = watch.step(now, [reading(f"box-{n}", now, v) for n, v in values.items()]).facts
    assert (facts.irradiance_wm2, facts.core_c) == (820.0, 58.0)


def test_daylight_keeps_two_days_and_knows_no_third() -> None:
    sky = daylight(at("09:00"))
    assert sky.at(at("12:00")) is not None
    assert sky.table(at("12:00").replace(day=20)) is None


def test_what_the_start_told_of_the_food_holds_for_the_forecast() -> None:
    clock = morning()
    watch = watch_at(clock)
    start = event(EventKind.START, clock.moment(), food="beans", target_c="71")
    watch.take(start, clock.moment())
    watch.take(event(EventKind.LOAD, clock.moment()), clock.moment())
    heat(watch, clock, "box-pot", 60.0, 60)
    forecast = watch.foresee(clock.moment())
    assert forecast is not None
    assert forecast.target_c == watch.facts(clock.moment()).target_c == 71.0


def test_a_target_above_boiling_is_lowered_for_alarm_and_forecast_alike() -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="bread", target_c="97"), clock.moment())
    heat(watch, clock, "box-pot", 60.0, 60)
    forecast = watch.foresee(clock.moment())
    assert forecast is not None
    assert forecast.target_c == watch.facts(clock.moment()).target_c
    assert forecast.target_c == pytest.approx(92.65, abs=0.01)
    assert "counts as done at 93 °C instead of 97 °C" in forecast.reasons[0]


@pytest.mark.parametrize(
    ("food", "core_c", "fits"),
    [
        ("stew", "99.6", True),  # water boils at 94.65 °C here
        ("stew", "99.7", False),
        ("stew", "140", False),
        ("bread", "140", True),
    ],
)
def test_a_spot_hotter_than_wet_food_can_be_is_a_slip_of_the_unit(
    food: str, core_c: str, fits: bool
) -> None:
    clock = morning()
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food=food), clock.moment())
    watch.changed()
    spot = event(EventKind.SPOT, clock.advance(60), core_c=core_c)
    if fits:
        watch.take(spot, clock.moment())
        assert watch.changed()
        return
    with pytest.raises(CookError, match=r"hotter than stew can be, where .* 95 °C; was that °F\?"):
        watch.take(spot, clock.moment())
    assert not watch.changed()
