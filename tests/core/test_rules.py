"""From facts to conditions: each alarm at its limit, and what is not known stays unknown."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import AlarmRecord, AlarmState, Condition, fresh
from noonpot.core.cook import Aim, Cook, Load
from noonpot.core.facts import Case, Facts
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Fault, FaultKind
from noonpot.core.rules import DEFAULT_POLICIES, RULES, STATION_RULES, evaluate
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky
from noonpot.core.wording import PHONE_LENGTH, Wording

AT = datetime(2026, 6, 3, 10, 0, tzinfo=UTC)
BREAD = Food("bread", target_c=92.0, loading_pot_c=105.0)
CHICKEN = Food("chicken", target_c=80.0, safe_c=74.0, hold_s=300)
SUN = SunSky(azimuth_deg=150.0, elevation_deg=60.0, ghi=800, dni=850, dhi=90)
LOAD = Load(AT, "bread", 0.6)
COOK = Cook("box", AT, food="bread", aim=Aim(150.0, 60.0))
FACTS = Facts(
    cooker=CookerSpec("box", acceptance_deg=30.0),
    cook=COOK,
    food=BREAD,
    target_c=92.0,
    pot_c=90.0,
    core_c=None,
    ambient_c=24.0,
    irradiance_wm2=None,
    faults=(),
    heard_at=AT,
    silent_s=2.0,
    sun=SUN,
    sun_up=True,
    misaim_deg=0.0,
)


def judged(facts: Facts, alarm: str, record: AlarmRecord | None = None) -> Condition:
    records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    if record is not None:
        records[record.alarm] = record
    return evaluate(Case(facts, records, DEFAULT_POLICIES, RuleLimits(), Wording()))[alarm]


def active(alarm: str) -> AlarmRecord:
    state = AlarmState.ACKNOWLEDGED
    return replace(fresh("box", alarm, Moment(AT, 0.0)), state=state)


def test_every_rule_has_its_numbers() -> None:
    assert set(RULES) | set(STATION_RULES) == set(DEFAULT_POLICIES)
    assert set(RULES) & set(STATION_RULES) == set()


@pytest.mark.parametrize(
    ("pot_c", "expected"), [(104.9, False), (105.0, True), (None, None), (150.0, True)]
)
def test_the_pot_is_preheated_at_the_loading_temperature_of_the_food(
    pot_c: float | None, expected: bool | None
) -> None:
    assert judged(replace(FACTS, pot_c=pot_c), "preheated").active is expected


def test_preheated_clears_only_below_its_deadband() -> None:
    assert judged(replace(FACTS, pot_c=103.1), "preheated", active("preheated")).active is True
    assert judged(replace(FACTS, pot_c=102.9), "preheated", active("preheated")).active is False


def test_a_loaded_pot_is_not_called_preheated() -> None:
    loaded = replace(FACTS, pot_c=120.0, cook=replace(COOK, load=LOAD))
    assert judged(loaded, "preheated").active is False


@pytest.mark.parametrize(("core_c", "expected"), [(91.9, False), (92.0, True), (None, None)])
def test_done_is_the_core_at_its_target(core_c: float | None, expected: bool | None) -> None:
    facts = replace(FACTS, cook=replace(COOK, load=LOAD), core_c=core_c)
    assert judged(facts, "done").active is expected


def test_nothing_in_the_pot_is_never_done() -> None:
    assert judged(replace(FACTS, core_c=120.0), "done").active is False


def test_what_is_done_stays_done_until_it_is_taken_out() -> None:
    facts = replace(FACTS, cook=replace(COOK, load=LOAD), core_c=60.0)
    assert judged(facts, "done", active("done")).active is True
    unloaded = replace(facts, cook=COOK)
    assert judged(unloaded, "done", active("done")).active is False


def test_done_waits_for_the_hold_of_the_food() -> None:
    records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    facts = replace(FACTS, food=CHICKEN)
    case = Case(facts, records, DEFAULT_POLICIES, RuleLimits(), Wording())
    assert case.policy("done").on_delay_s == 300
    assert case.policy("turn") == DEFAULT_POLICIES["turn"]


@pytest.mark.parametrize(
    ("misaim_deg", "expected"),
    # a turn gives a mirror cooker of 30° acceptance 21 % more light at 10°, 29 % at 12°
    [(0.0, False), (10.0, False), (12.0, True), (60.0, True), (180.0, True)],
)
def test_turning_is_asked_for_when_enough_light_is_lost(misaim_deg: float, expected: bool) -> None:
    assert judged(replace(FACTS, misaim_deg=misaim_deg), "turn").active is expected


def foreseen(index: float | None = 1.0, saves_min: float | None = 20.0) -> Forecast:
    saved_s = None if saves_min is None else 60 * saves_min
    return Forecast(AT, 92.0, 0.9, AT, AT, AT, index, 20.0, saved_s)


def test_a_turn_is_not_told_where_it_will_hardly_help() -> None:
    """Where nobody knows what it saves: food that is done soon, and food that is to be moved."""
    loaded = replace(COOK, load=LOAD)
    for misaim_deg, told, expected in (
        (12.0, None, True),
        (12.0, "soon", False),
        (30.0, "soon", False),
        (12.0, "rescue", False),
        (30.0, "rescue", True),  # the aim may be why it is late
    ):
        off = replace(FACTS, cook=loaded, misaim_deg=misaim_deg, forecast=foreseen(saves_min=None))
        record = None if told is None else active(told)
        assert judged(off, "turn", record).active is expected, (misaim_deg, told)


@pytest.mark.parametrize(
    ("forecast", "irradiance", "expected"),
    [
        (None, None, True),  # nobody knows better
        (foreseen(), None, True),
        (foreseen(index=0.6), None, False),  # a cloud, not the aim
        (foreseen(index=None), 300.0, False),  # 300 of 800 W/m²
        (None, 780.0, True),
        (foreseen(saves_min=9.9), None, False),  # it is done before it matters
        (foreseen(saves_min=10.0), None, True),
        (foreseen(saves_min=None), None, True),
    ],
)
def test_turning_must_be_worth_the_walk(
    forecast: Forecast | None, irradiance: float | None, expected: bool
) -> None:
    off = replace(FACTS, misaim_deg=20.0, forecast=forecast, irradiance_wm2=irradiance)
    assert judged(off, "turn").active is expected
    assert judged(replace(off, misaim_deg=5.0), "turn").active is False


def test_once_asked_for_a_turn_does_not_come_and_go_with_the_clouds() -> None:
    cloudy = replace(FACTS, misaim_deg=20.0, forecast=foreseen(index=0.3, saves_min=0.0))
    assert judged(cloudy, "turn", active("turn")).active is True
    assert judged(replace(cloudy, misaim_deg=3.0), "turn", active("turn")).active is False


def test_the_minutes_that_a_turn_saves_are_told() -> None:
    off = replace(FACTS, misaim_deg=20.0, forecast=foreseen(saves_min=12.4))
    assert "more light, done 12 min sooner." in judged(off, "turn").text


@pytest.mark.parametrize(("ahead_min", "expected"), [(5, False), (-115, True), (-90, False)])
def test_food_that_must_hold_its_heat_for_hours_is_done_soon_at_the_end_of_them(
    ahead_min: int, expected: bool
) -> None:
    reached = AT + timedelta(minutes=ahead_min)
    forecast = Forecast(AT, 92.0, 1.0, reached, reached, reached)
    stew = Food("stew", target_c=92.0, hold_s=7200.0)
    facts = replace(FACTS, cook=replace(COOK, load=LOAD), food=stew, forecast=forecast, at=AT)
    condition = judged(facts, "soon")
    assert condition.active is expected
    assert "will be done about" in condition.text
    assert f"{reached + timedelta(hours=2):%H:%M}" in condition.text


def test_nobody_is_sent_to_turn_at_night_or_when_the_food_is_done() -> None:
    off = replace(FACTS, misaim_deg=40.0)
    assert judged(replace(off, sun_up=False), "turn").active is False
    records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    records["done"] = active("done")
    case = Case(off, records, DEFAULT_POLICIES, RuleLimits(), Wording())
    assert evaluate(case)["turn"].active is False


def test_without_a_trusted_clock_turning_is_suppressed_not_cleared() -> None:
    unset = replace(FACTS, clock_trusted=False, sun=None, misaim_deg=None)
    condition = judged(unset, "turn")
    assert (condition.active, condition.suppressed) == (None, True)


def test_without_a_day_table_turning_is_unknown_and_stays_as_it_was() -> None:
    condition = judged(replace(FACTS, sun=None, misaim_deg=None), "turn")
    assert (condition.active, condition.suppressed) == (None, False)


def test_another_fault_of_a_probe_is_another_subject() -> None:
    first = Fault("loaf", AT, 0.0, FaultKind.OPEN_CIRCUIT)
    second = Fault("pot", AT, 0.0, FaultKind.CHECKSUM)
    one, two = replace(FACTS, faults=(first,)), replace(FACTS, faults=(first, second))
    assert judged(FACTS, "probe").active is False
    assert judged(one, "probe").subject != judged(two, "probe").subject


@pytest.mark.parametrize(("silent_s", "expected"), [(299.0, False), (300.0, True)])
def test_silence_is_news_while_a_cook_runs(silent_s: float, expected: bool) -> None:
    assert judged(replace(FACTS, silent_s=silent_s), "no-news").active is expected
    assert judged(replace(FACTS, silent_s=silent_s, cook=None), "no-news").active is False


def test_after_a_restart_silence_counts_anew_and_only_a_reading_ends_what_was_told_of_it() -> None:
    dark = replace(FACTS, pot_c=None, silent_s=2.0)
    assert judged(dark, "no-news", active("no-news")).active is None
    assert judged(dark, "no-news").active is False
    assert judged(FACTS, "no-news", active("no-news")).active is False


@pytest.mark.parametrize("units", ["C", "F"])
def test_every_text_fits_a_phone_and_says_which_cooker(units: str) -> None:
    facts = replace(
        FACTS,
        cooker=CookerSpec("the-longest-name-that-a-cooker-may-have1"),
        cook=replace(COOK, load=LOAD),
        food=replace(CHICKEN, name="chicken-in-cream-with-forty-cloves-of-ga"),
        core_c=95.0,
        pot_c=130.0,
        misaim_deg=44.4,
        forecast=foreseen(saves_min=240.0),
        silent_s=9999.0,
        faults=tuple(Fault(f"probe-{k}", AT, 0.0, k) for k in FaultKind),
    )
    records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    wording = Wording(units=units, declination_deg=8.5)
    unloaded = replace(facts, cook=COOK, food=replace(BREAD, name="a" * 40))
    for look in (facts, unloaded):
        case = Case(look, records, DEFAULT_POLICIES, RuleLimits(), wording)
        for alarm, condition in evaluate(case).items():
            if condition.active:
                assert condition.text.startswith(look.cooker.name), alarm
                assert len(condition.text) <= PHONE_LENGTH, (alarm, len(condition.text))


def test_texts_are_in_the_readers_unit() -> None:
    assert Wording("F").temperature(100.0) == "212 °F"
    assert Wording("C").temperature(100.0) == "100 °C"
    assert Wording(declination_deg=9.0).bearing(5.0) == "5° true (356° by compass)"
