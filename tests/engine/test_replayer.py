"""A recording replayed: the same alarms as live, and nothing from the future."""

import random
from datetime import timedelta

import pytest

from engine.kitchen import HOUSE
from noonpot.core.alarms import AlarmRecord
from noonpot.core.cook import EventKind
from noonpot.core.forecast import Forecast
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.engine.daylight import Daylight
from noonpot.engine.replayer import Replayed, Replayer, limits_for, station_of
from noonpot.engine.watch import Household
from simday import HILL, SimpleSun, at, event, record_day, turns


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


def alarms(said: list[Replayed]) -> list[tuple[str, str]]:
    return [(r.said.alarm, r.said.state) for r in said if isinstance(r.said, AlarmRecord)]


def test_a_loaf_is_told_to_be_done_once(loaf: Recording) -> None:
    raised = [name for name, state in alarms(replayed(loaf)) if state == "unacknowledged"]
    assert [name for name in raised if name != "turn"] == ["done"]


def test_forecasts_come_every_ten_minutes_since_loading(loaf: Recording) -> None:
    times = [r.at - at("09:30") for r in replayed(loaf) if isinstance(r.said, Forecast)]
    assert times == [timedelta(minutes=10 * n) for n in range(len(times))]
    assert len(times) == 16


def test_a_recording_cut_short_says_the_same_until_there(loaf: Recording) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    whole = replayed(loaf)
    for _ in range(5):
        end = chance.choice(loaf.rows[30:]).at
        short = replayed(Recording(loaf.header, [row for row in loaf.rows if row.at <= end]))
        assert short == [said for said in whole if said.at <= end]


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


def test_a_core_that_reached_its_target_needs_no_more_time(loaf: Recording) -> None:
    last = [r.said for r in replayed(loaf) if isinstance(r.said, Forecast)][-1]
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
