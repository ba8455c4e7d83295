"""A recording replayed: the same alarms as live, and nothing from the future."""

import math
import random
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kitchen import HOUSE
from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import EventKind
from noonpot.core.forecast import Forecast
from noonpot.core.header import Header
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.replayer import Replayed, Replayer, believed, limits_for, station_of
from simday import HILL, SimpleSun, at, event, first_at, record_day, turns


@pytest.fixture(scope="module")
def loaf() -> Recording:
    """A clear day: bread at half past nine, turned every twenty minutes."""
    options = {"cookers": [{"name": "box"}], "sky": "clear", "seed": 3}
    script = [
        event("box", "load", at("09:30"), food="bread", mass_kg=0.6, start_c=27),
        *turns("box", at("07:00"), at("12:00")),
    ]
    return record_day(options, script, at("07:00"), at("12:00"))


def replayed(recording: Recording, every_s: float = 600.0) -> list[Replayed]:
    station = station_of(recording)
    limits = limits_for(recording, RuleLimits())
    house = Household(station, HOUSE.foods, HOUSE.policies, limits, HOUSE.wording)
    return list(Replayer(recording, house, Daylight(HILL, SimpleSun()), every_s).run())


@pytest.fixture(scope="module")
def said_of_loaf(loaf: Recording) -> list[Replayed]:
    """All that is said of that day, for whoever only reads it."""
    return replayed(loaf)


def alarms(said: list[Replayed]) -> list[tuple[str, str]]:
    return [(r.said.alarm, r.said.state) for r in said if isinstance(r.said, AlarmRecord)]


def test_a_loaf_that_stays_in_is_told_once_to_be_soon_done_then_done_then_overdone(
    said_of_loaf: list[Replayed],
) -> None:
    raised = [name for name, state in alarms(said_of_loaf) if state == "unacknowledged"]
    assert [name for name in raised if name != "turn"] == ["soon", "done", "overdone"]


def test_forecasts_come_every_ten_minutes_since_loading(said_of_loaf: list[Replayed]) -> None:
    times = [r.at - at("09:30") for r in said_of_loaf if isinstance(r.said, Forecast)]
    assert times == [timedelta(minutes=10 * n) for n in range(len(times))]
    assert len(times) == 16


def test_a_recording_cut_short_says_the_same_until_there(
    loaf: Recording, said_of_loaf: list[Replayed]
) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    for _ in range(5):
        end = chance.choice(loaf.rows[30:]).at
        short = replayed(Recording(loaf.header, [row for row in loaf.rows if row.at <= end]))
        assert short == [said for said in said_of_loaf if said.at <= end]


def test_a_gap_in_the_recording_is_silence(loaf: Recording) -> None:
    rows = [row for row in loaf.rows if not at("08:00") < row.at < at("08:40")]
    said = replayed(Recording(loaf.header, rows))
    (silence,) = [r for r in said if isinstance(r.said, AlarmRecord) and r.said.alarm == "no-news"][
        :1
    ]
    assert at("08:05") <= silence.at <= at("08:06")


def test_a_log_of_one_row_in_ten_minutes_is_no_silence(loaf: Recording) -> None:
    rows = [r for r in loaf.rows if r.event or r.at.minute % 10 == 0]
    assert "no-news" not in dict(alarms(replayed(Recording(loaf.header, rows))))


def test_without_rows_nothing_is_said(loaf: Recording) -> None:
    assert replayed(Recording(loaf.header, [])) == []


def test_a_core_that_reached_its_target_needs_no_more_time(said_of_loaf: list[Replayed]) -> None:
    last = [r.said for r in said_of_loaf if isinstance(r.said, Forecast)][-1]
    assert last.done_p50 is not None
    assert last.done_p50 <= last.at


def test_a_cook_that_nobody_aimed_has_no_misaim_and_still_a_forecast(loaf: Recording) -> None:
    rows = [row for row in loaf.rows if row.event is not EventKind.AIM]
    forecasts = [r.said for r in replayed(Recording(loaf.header, rows))]
    told = [f for f in forecasts if isinstance(f, Forecast)]
    assert len(told) == 16
    assert {f.misaim_deg for f in told} == {None}


@pytest.mark.parametrize("missing", [Role.POT, Role.AMBIENT, Role.IRRADIANCE, Role.CORE])
def test_a_probe_that_was_never_there_leaves_a_forecast_without_nonsense(
    loaf: Recording, missing: Role
) -> None:
    rows = [
        Row(r.at, {k: v for k, v in r.values.items() if k is not missing}, r.event, r.detail)
        for r in loaf.rows
    ]
    told = [r.said for r in replayed(Recording(loaf.header, rows)) if isinstance(r.said, Forecast)]
    assert told
    for forecast in told:
        assert 0 <= forecast.p_done <= 1
        times = [forecast.done_p10, forecast.done_p50, forecast.done_p90]
        assert (None in times) == (forecast.p_done < 0.01)
        known = [t for t in times if t is not None]
        assert known == sorted(known)


cells = st.none() | st.floats(-60, 300)
gaps = st.sampled_from([0, 5, 60, 300, 2400]) | st.integers(0, 5000)
numbers = st.floats(-1e6, 1e6).map(str)
happenings = st.none() | st.sampled_from(
    [
        (EventKind.LOAD, {}),
        (EventKind.LOAD, {"food": "Bread"}),
        (EventKind.UNLOAD, {}),
        (EventKind.LID, {}),
        (EventKind.NOTE, {}),
    ]
)
happenings |= numbers.map(lambda x: (EventKind.SPOT, {"core_c": x}))
happenings |= numbers.map(lambda x: (EventKind.AIM, {"azimuth": x, "elevation": x}))
happenings |= st.tuples(numbers, numbers, numbers).map(
    lambda x: (
        EventKind.LOAD,
        {"food": "slate", "mass_kg": x[0], "start_c": x[1], "target_c": x[2]},
    )
)
lines = st.lists(st.tuples(gaps, st.tuples(cells, cells, cells, cells), happenings), max_size=25)


@settings(max_examples=25, deadline=None)
@given(lines, st.integers(4, 19), st.sampled_from([10, 600]))
def test_no_recording_makes_it_stumble_or_say_nonsense(
    written: list[tuple[int, tuple[float | None, ...], tuple[EventKind, dict[str, str]] | None]],
    begin_h: int,
    every_min: int,
) -> None:
    now, rows = at(f"{begin_h:02d}:00"), []
    for gap_s, values, happened in written:
        now += timedelta(seconds=gap_s)
        kind, detail = happened or (None, {})
        given_values = {r: v for r, v in zip(Role, values, strict=True) if v is not None}
        rows.append(Row(now, given_values, kind, detail))
    for said in replayed(Recording(Header(HILL, "box"), rows), 60.0 * every_min):
        if isinstance(said.said, Forecast):
            sane(said.said)


def sane(said: Forecast) -> None:
    times = [said.done_p10, said.done_p50, said.done_p90]
    assert 0.0 <= said.p_done <= 1.0
    assert math.isfinite(said.target_c)
    assert said.clear_sky_index is None or 0.0 <= said.clear_sky_index <= 1.5
    assert said.misaim_deg is None or 0.0 <= said.misaim_deg <= 180.0
    if said.p_done < 0.01:
        assert times == [None, None, None]
    else:
        assert times == sorted(t for t in times if t is not None)


@pytest.mark.parametrize(
    "without",
    [(), (Role.POT,), (Role.AMBIENT, Role.IRRADIANCE), (Role.POT, Role.AMBIENT, Role.IRRADIANCE)],
)
def test_whatever_is_fitted_the_loaf_is_foreseen_from_half_way(
    loaf: Recording, without: tuple[Role, ...]
) -> None:
    rows = [
        Row(r.at, {k: v for k, v in r.values.items() if k not in without}, r.event, r.detail)
        for r in loaf.rows
    ]
    baked = Recording(loaf.header, [r for r in loaf.rows if r.at > at("10:00")])
    done = first_at(baked, Role.CORE, 92.65)
    assert done is not None
    half = at("09:30") + (done - at("09:30")) / 2
    said = [r for r in replayed(Recording(loaf.header, rows)) if isinstance(r.said, Forecast)]
    early = next(r for r in said if r.at >= half).said
    assert isinstance(early, Forecast)
    assert early.done_p50 is not None
    assert abs(early.done_p50 - done) < timedelta(minutes=75)  # nobody saw this cooker before
    last = said[-1].said
    assert isinstance(last, Forecast)
    assert last.p_done == 1.0
    assert last.done_p50 is not None
    assert abs(last.done_p50 - done) <= timedelta(minutes=3)


@pytest.mark.parametrize(("sky", "food", "seed"), [("broken", "bread", 7), ("clear", "stew", 5)])
def test_other_days_too_say_the_same_when_cut_short(sky: str, food: str, seed: int) -> None:
    options = {"cookers": [{"name": "box"}], "sky": sky, "seed": seed}
    script = [
        event("box", "load", at("09:10"), food=food, mass_kg=1.1, start_c=18),
        event("box", "lid", at("10:03")),
        *turns("box", at("08:00"), at("13:00"), every_s=2400),
        event("box", "unload", at("12:20")),
        event("box", "load", at("12:31"), food="stew", mass_kg=0.7),
    ]
    day = record_day(options, script, at("08:00"), at("13:30"), step_s=20.0)
    whole = replayed(day)
    for cut in (400, 700, len(day.rows) - 25):
        short = replayed(Recording(day.header, day.rows[:cut]))
        assert short == whole[: len(short)]
        assert any(isinstance(r.said, Forecast) for r in short)


def test_an_event_that_does_not_fit_is_refused_and_the_rest_replayed(
    loaf: Recording, said_of_loaf: list[Replayed]
) -> None:
    early = [Row(loaf.rows[0].at, {}, EventKind.UNLOAD), *loaf.rows]
    assert replayed(Recording(loaf.header, early)) == said_of_loaf


def test_a_probe_still_hot_from_the_pot_is_no_food_that_is_done(loaf: Recording) -> None:
    rows = []
    for row in (r for r in loaf.rows if r.at < at("10:10")):
        since_s = (row.at - at("09:30")).total_seconds()
        hot_k = 95 * math.exp(-since_s / 200) if since_s >= 0 else 0.0
        values = {r: v + hot_k if r is Role.CORE else v for r, v in row.values.items()}
        rows.append(Row(row.at, values, row.event, row.detail))
    said = replayed(Recording(loaf.header, rows), 37.0)
    told = [r.said for r in said if isinstance(r.said, Forecast)]
    assert len(told) == 64
    assert all(f.done_p50 is None or f.done_p50 > f.at for f in told)


@pytest.fixture(scope="module")
def said_of_a_hole(loaf: Recording) -> list[Replayed]:
    """What is said of that day when one reading of the core is not there."""
    return replayed(with_core(loaf, at("09:50"), None))


@pytest.mark.parametrize("value", [85.0, 93.0, -40.0])
def test_a_single_false_reading_of_the_core_is_not_believed(
    loaf: Recording, said_of_a_hole: list[Replayed], value: float
) -> None:
    assert replayed(with_core(loaf, at("09:50"), value)) == said_of_a_hole


def with_core(recording: Recording, when: datetime, value: float | None) -> Recording:
    """The recording with another core, or none, in one row."""
    rows = []
    for row in recording.rows:
        values = dict(row.values)
        if row.at == when and Role.CORE in values:
            values.pop(Role.CORE)
            if value is not None:
                values[Role.CORE] = value
        rows.append(replace(row, values=values))
    return replace(recording, rows=rows)


def test_past_cooks_teach_by_what_may_be_believed(loaf: Recording) -> None:
    spoilt = believed(with_core(loaf, at("09:50"), 85.0))
    assert spoilt.rows == believed(with_core(loaf, at("09:50"), None)).rows
    lost = [a for a, b in zip(loaf.rows, believed(loaf).rows, strict=True) if a.values != b.values]
    assert all(at("09:30") <= row.at <= at("09:33") for row in lost)  # the probe goes into dough
