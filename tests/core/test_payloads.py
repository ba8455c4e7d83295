"""The bodies of all messages."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from noonpot.core.advice import Advice
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.alert import Alert, Priority
from noonpot.core.cook import Aim, Cook, Load
from noonpot.core.facts import Facts
from noonpot.core.forecast import CurvePoint, Forecast
from noonpot.core.moment import Moment
from noonpot.core.payloads import (
    alarm_payload,
    alert_payload,
    forecast_payload,
    now_payload,
    status_payload,
    topic,
)
from noonpot.core.readings import Fault, FaultKind
from noonpot.core.safety import Course, Safety
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky

AT = datetime(2026, 6, 3, 11, 30, 0, 750_000, tzinfo=UTC)
NOW = Moment(AT, 5000.0)
EARLIER = AT - timedelta(hours=1)


def facts(**known: object) -> Facts:
    """Facts of the cooker ``box``, of which nothing is known but what the test says."""
    unknown = ("cook", "food", "target_c", "pot_c", "core_c", "ambient_c", "irradiance_wm2")
    rest = {"cooker": CookerSpec("box"), "faults": (), "heard_at": AT, "silent_s": 0.0}
    return Facts(**(dict.fromkeys(unknown) | rest | known))  # type: ignore[arg-type]


def test_a_status_says_whether_it_is_the_last_will() -> None:
    unsure = Moment(AT, 5000.0, trusted=False)
    assert status_payload("garden", unsure, "1.2.3", "offline", last_will=True) == {
        "time": "2026-06-03T11:30:00Z",
        "station": "garden",
        "status": "offline",
        "last_will": True,
        "version": "1.2.3",
        "clock_trusted": False,
    }


def test_a_cooker_of_which_nothing_is_known_is_all_null() -> None:
    assert now_payload("garden", facts(), NOW, Advice("Nothing cooks here.")) == {
        "time": "2026-06-03T11:30:00Z",
        "station": "garden",
        "cooker": "box",
        "pot_c": None,
        "core_c": None,
        "ambient_c": None,
        "irradiance_wm2": None,
        "misaim_deg": None,
        "cook": None,
        "aim": None,
        "sun": None,
        "safety": None,
        "advice": "Nothing cooks here.",
        "advice_alarm": None,
        "faults": [],
        "clock_trusted": True,
    }


def test_a_cook_under_way_is_told_whole() -> None:
    load = Load(at=EARLIER, food="bread", mass_kg=0.6)
    begun = AT - timedelta(hours=2)
    course = Course(danger_s=600.4, unknown_s=60.0)
    known = facts(
        cook=Cook("box", begun, "bread", id=12, aim=Aim(118.04, 52.0), load=load, meal_at=AT),
        sun=SunSky(139.24, 58.4, 900.0, 800.0, 100.0),
        sun_up=True,
        safety=Safety(course, 61.0, frozenset(), 14_400.0, AT),
        target_c=94.0,
        pot_c=128.43751,
        core_c=61.0625,
        ambient_c=27.125,
        irradiance_wm2=812.34,
        misaim_deg=12.345,
        faults=(Fault("shade", EARLIER, 1400.0, FaultKind.NOT_ANSWERING, "no file"),),
    )
    told = now_payload("garden", known, NOW, Advice("Wait.", "turn"))
    assert told["pot_c"] == 128.44
    assert told["core_c"] == 61.06
    assert told["ambient_c"] == 27.12
    assert told["irradiance_wm2"] == 812.3
    assert told["misaim_deg"] == 12.3
    assert told["cook"] == {
        "id": 12,
        "food": "bread",
        "since": "2026-06-03T09:30:00Z",
        "loaded_at": "2026-06-03T10:30:00Z",
        "mass_kg": 0.6,
        "target_c": 94.0,
        "loading_pot_c": None,
        "hold_s": None,
        "emptied": False,
        "meal_at": "2026-06-03T11:30:00Z",
        "hazardous": True,
    }
    assert told["aim"] == {"azimuth_deg": 118.0, "elevation_deg": 52.0}
    assert told["sun"] == {"azimuth_deg": 139.2, "elevation_deg": 58.4, "up": True}
    assert told["safety"] == {"unsafe_s": 600, "unseen_s": 60, "limit_s": 14_400, "safe": False}
    assert told["faults"] == [
        {"probe": "shade", "fault": "not-answering", "since": "2026-06-03T10:30:00Z"}
    ]


def test_a_cook_before_loading_has_neither_food_nor_time_of_loading() -> None:
    told = now_payload("garden", facts(cook=Cook("box", EARLIER)), NOW, Advice("Wait.", "turn"))
    assert told["cook"] == {
        "id": None,
        "food": None,
        "since": "2026-06-03T10:30:00Z",
        "loaded_at": None,
        "mass_kg": None,
        "target_c": None,
        "loading_pot_c": None,
        "hold_s": None,
        "emptied": False,
        "meal_at": None,
        "hazardous": True,
    }


def test_a_forecast_keeps_its_nulls() -> None:
    line = Forecast(AT, 94.0, 0.004, None, None, None, reasons=("thick cloud",))
    assert forecast_payload("garden", "box", line) == {
        "time": "2026-06-03T11:30:00Z",
        "station": "garden",
        "cooker": "box",
        "target_c": 94.0,
        "p_done": 0.004,
        "done_p10": None,
        "done_p50": None,
        "done_p90": None,
        "clear_sky_index": None,
        "misaim_deg": None,
        "turn_saves_s": None,
        "core_estimated": False,
        "curve": [],
        "rescue_at": None,
        "rescue_because": None,
        "reasons": ["thick cloud"],
    }


def test_a_full_forecast_is_told_in_utc_and_rounded() -> None:
    cest = timezone(timedelta(hours=2))
    done = datetime(2026, 6, 3, 14, 10, tzinfo=cest)
    forecast = Forecast(AT, 94.0, 0.93456, done, done, done, 0.8149, 12.35, 612.7)
    told = forecast_payload(
        "garden", "box", replace(forecast, curve=(CurvePoint(done, 60.04, 61.0, 62.0),))
    )
    assert told["p_done"] == 0.935
    assert told["done_p10"] == told["done_p50"] == told["done_p90"] == "2026-06-03T12:10:00Z"
    assert told["clear_sky_index"] == 0.81
    assert told["turn_saves_s"] == 613
    assert told["curve"] == [
        {"time": "2026-06-03T12:10:00Z", "core_p10": 60.0, "core_p50": 61.0, "core_p90": 62.0}
    ]


def test_an_alarm_tells_its_state_since_when() -> None:
    record = AlarmRecord(
        "box",
        "done",
        AlarmState.ACKNOWLEDGED,
        Moment(EARLIER, 1400.0),
        text="box: bread is done.",
        priority=Priority.HIGH,
    )
    assert alarm_payload("garden", record, NOW) == {
        "time": "2026-06-03T11:30:00Z",
        "station": "garden",
        "cooker": "box",
        "alarm": "done",
        "state": "acknowledged",
        "since": "2026-06-03T10:30:00Z",
        "priority": "high",
        "text": "box: bread is done.",
        "may_shelve": True,
    }


def test_an_alert_carries_its_id_and_its_end() -> None:
    alert = Alert(
        id="a-1",
        at=AT,
        expires_at=AT + timedelta(minutes=30),
        cooker="box",
        alarm="turn",
        state=AlarmState.UNACKNOWLEDGED,
        priority=Priority.MEDIUM,
        text="box: turn it.",
    )
    assert alert_payload("garden", alert) == {
        "id": "a-1",
        "time": "2026-06-03T11:30:00Z",
        "expires": "2026-06-03T12:00:00Z",
        "station": "garden",
        "cooker": "box",
        "alarm": "turn",
        "state": "unacknowledged",
        "priority": "medium",
        "text": "box: turn it.",
    }


@pytest.mark.parametrize("strange", [float("nan"), float("inf"), float("-inf")])
def test_a_number_json_has_no_word_for_is_null(strange: float) -> None:
    told = now_payload("garden", facts(pot_c=strange), NOW, Advice("Wait.", "turn"))
    assert told["pot_c"] is None
    assert json.dumps(told, allow_nan=False)


@pytest.mark.parametrize("level", ["", "a/b", "#", "a+", "a\x00"])
def test_a_name_that_would_change_a_topic_is_refused(level: str) -> None:
    with pytest.raises(ValueError, match="cannot be part of a topic"):
        topic("garden", level)
