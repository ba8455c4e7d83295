"""Soon, sky and rescue: told once, with the numbers of the forecast, and never fluttering."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import (
    AlarmRecord,
    AlarmState,
    Condition,
    acknowledge,
    fresh,
    is_told,
    step,
)
from noonpot.core.cook import Cook, Load
from noonpot.core.facts import Case, Facts
from noonpot.core.forecast import Forecast
from noonpot.core.moment import Moment
from noonpot.core.policy import LAST_CALL, RuleLimits
from noonpot.core.rescue import Because
from noonpot.core.rules import DEFAULT_POLICIES, RULES
from noonpot.core.station import CookerSpec
from noonpot.core.wording import PHONE_LENGTH, Wording

AT = datetime(2026, 6, 3, 11, 0, tzinfo=UTC)
COOK = Cook("box", AT, food="bread", load=Load(AT, "bread", 0.6))
FACTS = Facts(
    cooker=CookerSpec("box"),
    cook=COOK,
    food=None,
    target_c=92.0,
    pot_c=100.0,
    core_c=70.0,
    ambient_c=24.0,
    irradiance_wm2=None,
    faults=(),
    heard_at=AT,
    silent_s=2.0,
    at=AT,
)
FORECAST = Forecast(
    AT,
    92.0,
    0.9,
    AT + timedelta(minutes=30),
    AT + timedelta(minutes=40),
    AT + timedelta(minutes=70),
    clear_sky_index=0.5,
)


def minutes(number: float) -> datetime:
    return AT + timedelta(minutes=number)


def case_of(forecast: Forecast | None, *records: AlarmRecord, facts: Facts = FACTS) -> Case:
    all_records = {name: fresh("box", name, Moment(AT, 0.0)) for name in RULES}
    all_records |= {record.alarm: record for record in records}
    facts = replace(facts, forecast=forecast)
    return Case(facts, all_records, DEFAULT_POLICIES, RuleLimits(), Wording())


def judged(alarm: str, forecast: Forecast | None, *records: AlarmRecord) -> Condition:
    return RULES[alarm](case_of(forecast, *records))


def active(alarm: str, text: str = "") -> AlarmRecord:
    record = fresh("box", alarm, Moment(AT, 0.0))
    return replace(record, state=AlarmState.ACKNOWLEDGED, text=text)


@pytest.mark.parametrize("alarm", ["soon", "sky", "rescue"])
def test_without_a_forecast_nothing_is_known(alarm: str) -> None:
    assert judged(alarm, None).active is None


@pytest.mark.parametrize("alarm", ["soon", "sky", "rescue"])
def test_food_that_is_done_or_out_of_the_pot_has_no_prospects(alarm: str) -> None:
    forecast = replace(FORECAST, p_done=0.1, done_p50=minutes(5), cloud_cost_s=9000.0)
    assert judged(alarm, forecast, active("done"), active(alarm)).active is False
    empty = replace(FACTS, cook=replace(COOK, load=None))
    assert RULES[alarm](case_of(forecast, active(alarm), facts=empty)).active is False


@pytest.mark.parametrize(
    ("p50_min", "p_done", "expected"),
    [(15.1, 0.9, False), (15.0, 0.9, True), (15.0, 0.49, False), (-1.0, 1.0, False)],
)
def test_soon_is_a_quarter_of_an_hour_and_likely(
    p50_min: float, p_done: float, expected: bool
) -> None:
    forecast = replace(FORECAST, p_done=p_done, done_p50=minutes(p50_min))
    assert judged("soon", forecast).active is expected


def test_food_that_has_reached_its_heat_is_not_soon_between_a_minute_and_itself() -> None:
    at = minutes(5)
    reached = replace(FORECAST, done_p10=at, done_p50=at, done_p90=at)
    text = judged("soon", reached).text
    assert "between" not in text
    assert "if it stays as hot" in text


def test_soon_is_said_once_whatever_the_clouds_do() -> None:
    later = replace(FORECAST, done_p50=minutes(60))
    said = judged("soon", later, active("soon", "as it was said"))
    assert (said.active, said.text) == (True, "as it was said")
    assert judged("soon", None, active("soon")).active is True


@pytest.mark.parametrize(
    ("cost_min", "turn_min", "expected"),
    [(19.9, 0, False), (20.0, 0, True), (20.0, 19, True), (20.0, 20, False), (40.0, 55, False)],
)
def test_the_sky_is_blamed_when_it_costs_much_and_more_than_the_aim(
    cost_min: float, turn_min: float, expected: bool
) -> None:
    forecast = replace(FORECAST, cloud_cost_s=60 * cost_min, turn_saves_s=60 * turn_min)
    assert judged("sky", forecast).active is expected


def test_the_sky_is_behind_until_half_of_it_is_made_up_for() -> None:
    for cost_min, expected in ((10.1, True), (9.9, False)):
        forecast = replace(FORECAST, cloud_cost_s=60 * cost_min)
        assert judged("sky", forecast, active("sky")).active is expected


@pytest.mark.parametrize(
    ("p_done", "index", "expected"), [(0.4, 0.3, True), (0.4, 0.95, False), (0.6, 0.3, False)]
)
def test_a_cloud_whose_cost_nobody_knows_is_told_when_it_leaves_little_hope(
    p_done: float, index: float, expected: bool
) -> None:
    assert judged("sky", replace(FORECAST, p_done=p_done, clear_sky_index=index)).active is expected


def test_who_was_told_to_move_the_food_is_not_told_of_clouds() -> None:
    forecast = replace(FORECAST, cloud_cost_s=9000.0)
    assert judged("sky", forecast, active("rescue")).active is False


@pytest.mark.parametrize(
    ("p_done", "in_time", "expected"),
    [(0.2, None, False), (0.19, None, True), (0.9, 0.19, True), (0.19, 0.9, False)],
)
def test_rescue_goes_by_the_meal_and_without_one_by_the_day(
    p_done: float, in_time: float | None, expected: bool
) -> None:
    forecast = replace(FORECAST, p_done=p_done, p_in_time=in_time)
    assert judged("rescue", forecast).active is expected


def test_rescue_ends_only_above_thirty_five_percent() -> None:
    for p_done, expected in ((0.34, True), (0.36, False)):
        assert judged("rescue", replace(FORECAST, p_done=p_done), active("rescue")).active is (
            expected
        )


def last_call(subject: str) -> AlarmRecord:
    return replace(active("rescue"), subject=subject)


def test_rescue_is_told_once_and_once_more_half_an_hour_before_its_time() -> None:
    for left_min, subject in ((31, ""), (30, LAST_CALL), (-5, LAST_CALL), (None, "")):
        rescue_at = None if left_min is None else minutes(left_min)
        late = replace(FORECAST, p_done=0.1, rescue_at=rescue_at)
        assert judged("rescue", late).subject == subject
        assert judged("rescue", late, last_call(LAST_CALL)).subject == LAST_CALL


def messages(chances: Mapping[int, float], rescue_min: int, *, answered: bool) -> list[int]:
    """The minutes in which ``rescue`` is told, by a forecast a minute whose chance changes."""
    record, told, chance = fresh("box", "rescue", Moment(AT, 0.0)), [], 1.0
    for minute in range(240):
        chance = chances.get(minute, chance)
        now, facts = Moment(minutes(minute), 60.0 * minute), replace(FACTS, at=minutes(minute))
        late = replace(FORECAST, p_done=chance, rescue_at=minutes(rescue_min))
        case, before = case_of(late, record, facts=facts), record
        record = step(before, RULES["rescue"](case), now, case.policy("rescue"))
        if is_told(before, record):
            told.append(minute)
            record = acknowledge(record, now) if answered else record
    return told


def test_rescue_comes_no_more_than_three_times_whatever_sky_and_people_do() -> None:
    assert messages({0: 0.1}, 120, answered=True) == [3, 90]
    assert messages({0: 0.1}, 120, answered=False) == [3, 90, 100]
    assert messages({0: 0.1}, 20, answered=False) == [3, 13]
    fickle = {0: 0.1, 15: 0.9, 30: 0.1, 45: 0.9, 60: 0.1}
    assert messages(fickle, 120, answered=True) == [3, 90]


def test_rescue_is_over_when_the_food_is_done() -> None:
    assert judged("rescue", FORECAST, active("done"), active("rescue")).reset


@pytest.mark.parametrize(
    ("left_min", "delay_s"), [(None, 180), (10, 180), (2, 120), (0, 0), (-5, 0)]
)
def test_rescue_waits_for_more_forecasts_but_not_past_the_rescue_time(
    left_min: float | None, delay_s: float
) -> None:
    rescue_at = None if left_min is None else minutes(left_min)
    case = case_of(replace(FORECAST, rescue_at=rescue_at))
    assert case.policy("rescue").on_delay_s == delay_s


@pytest.mark.parametrize(
    ("rescue_at", "because", "ending"),
    [
        (minutes(85), Because.MEAL, "Move it to another heat by 12:25."),
        (minutes(-5), Because.MEAL, "Move it to another heat now."),
        (minutes(-5), Because.SAFETY, "in doubt, discard it."),
        (None, None, "Move it to another heat now."),
    ],
)
def test_rescue_says_by_when_the_food_must_be_moved(
    rescue_at: datetime | None, because: Because | None, ending: str
) -> None:
    late = replace(FORECAST, p_done=0.123, rescue_at=rescue_at, rescue_because=because)
    text = judged("rescue", late).text
    assert text.startswith("box: only a 12 % chance that bread is done today.")
    assert text.endswith(ending)
    assert "in time for the meal." in judged("rescue", replace(late, p_in_time=0.1)).text


def test_the_longest_names_still_fit_a_phone() -> None:
    cook = replace(COOK, cooker="c" * 40, food="f" * 40)
    facts = replace(FACTS, cooker=CookerSpec("c" * 40), cook=cook)
    for late in (
        replace(FORECAST, p_done=0.1, cloud_cost_s=14_000.0, rescue_at=minutes(85)),
        replace(
            FORECAST,
            p_done=0.1,
            p_in_time=0.1,
            rescue_at=minutes(-85),
            rescue_because=Because.SAFETY,
        ),
        replace(FORECAST, done_p50=minutes(9), cloud_cost_s=14_000.0),
    ):
        for alarm in ("soon", "sky", "rescue"):
            text = RULES[alarm](case_of(late, facts=facts)).text
            assert len(f"REPEAT 3: {text}") <= PHONE_LENGTH, (alarm, len(text))
