"""docs/messages.md, its schemas and the program say the same."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from noonpot.core.advice import Advice
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.alert import Alert, Answer, Priority
from noonpot.core.cook import Aim, Cook, Load
from noonpot.core.facts import Facts
from noonpot.core.forecast import CurvePoint, Forecast
from noonpot.core.moment import Moment
from noonpot.core.orders import PHONE_VERBS, Verb
from noonpot.core.payloads import (
    Payload,
    alarm_payload,
    alert_payload,
    did_payload,
    forecast_payload,
    health_payload,
    now_payload,
    status_payload,
)
from noonpot.core.readings import Fault, FaultKind
from noonpot.core.rescue import Because
from noonpot.core.safety import Course, Safety
from noonpot.core.station import CookerSpec
from noonpot.core.sun import SunSky

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "messages.md").read_text()
EVERY = {path.stem: json.loads(path.read_text()) for path in (DOCS / "schemas").glob("*.json")}
SCHEMAS = {name: schema for name, schema in EVERY.items() if name != "do"}  # that one we hear

AT = datetime(2026, 6, 3, 11, 30, tzinfo=UTC)
NOW = Moment(AT, 5000.0)


def sections() -> dict[str, str]:
    """The part of the page below each heading, by the heading."""
    parts = re.split(r"^## (.+)$", PAGE, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def examples(name: str) -> list[Any]:
    blocks = re.findall(r"```json\n(.*?)```", sections()[name], flags=re.DOTALL)
    return [json.loads(block) for block in blocks]


def check(name: str, payload: object) -> None:
    """Raises ValidationError when the message is not what its schema says."""
    Draft202012Validator(SCHEMAS[name]).validate(payload)


def records() -> list[AlarmRecord]:
    return [
        AlarmRecord("box", "no-news", state, NOW, text="box: look.", priority=priority)
        for state in AlarmState
        for priority in Priority
    ]


def produced() -> list[tuple[str, Payload]]:
    """Messages as the program makes them: full ones, and such in which little is known."""
    idle = Facts(
        cooker=CookerSpec("box"),
        cook=None,
        food=None,
        target_c=None,
        pot_c=None,
        core_c=None,
        ambient_c=None,
        irradiance_wm2=None,
        faults=(),
        heard_at=AT,
        silent_s=0.0,
    )
    begun = replace(idle, cook=Cook("box", AT))
    full = replace(
        idle,
        cook=Cook("box", AT, "bread", id=3, aim=Aim(1.0, 2.0), load=Load(AT, "bread", 1.0)),
        target_c=94.0,
        pot_c=124.3125,
        core_c=71.5,
        ambient_c=27.125,
        irradiance_wm2=803.25,
        faults=tuple(Fault("core-1", AT, 5000.0, kind) for kind in FaultKind),
        misaim_deg=14.62,
        sun=SunSky(139.24, 58.4, 900.0, 800.0, 100.0),
        safety=Safety(Course(600.0), 61.0, frozenset(), 14_400.0, AT),
    )
    curve = (CurvePoint(AT, 60.0, 61.0, 62.0),)
    sure = Forecast(AT, 94.0, 0.93, AT, AT, AT, 0.81, 12.3, 540.0, curve=curve)
    rescued = [replace(sure, rescue_at=AT, rescue_because=because) for because in Because]
    line = Forecast(AT, 94.0, 0.0, None, None, None)
    online = status_payload("garden", NOW, "0.1.0", "online", last_will=False)
    gone = status_payload("garden", NOW, "0.1.0", "offline", last_will=True)
    late = AT + timedelta(minutes=30)
    alerts = [
        Alert("a-1", AT, late, r.cooker, r.alarm, r.state, r.priority, r.text) for r in records()
    ]
    answers = [
        Answer("command-1", "box", v, done=v is Verb.AIM, text="box: done") for v in PHONE_VERBS
    ]
    return [
        ("status", online),
        ("status", gone),
        *(
            ("now", now_payload("garden", facts, NOW, Advice("Wait.", "turn")))
            for facts in (full, begun, idle)
        ),
        *(("forecast", forecast_payload("garden", "box", f)) for f in (sure, line, *rescued)),
        *(("alarm", alarm_payload("garden", record, NOW)) for record in records()),
        *(("alert", alert_payload("garden", alert)) for alert in alerts),
        ("health", health_payload("garden", NOW, 1, {}, {})),
        ("health", health_payload("garden", NOW, 2, {"mqtt": "", "push": "no"}, {"pings": 1})),
        *(("did", did_payload("garden", answer, NOW)) for answer in answers),
    ]


def test_every_schema_is_a_schema_has_a_section_and_links_back() -> None:
    assert sorted(SCHEMAS) == ["alarm", "alert", "did", "forecast", "health", "now", "status"]
    for name, schema in EVERY.items():
        Draft202012Validator.check_schema(schema)
        assert f"`{schema['title']}`" in sections()[name]
        assert f"(schemas/{name}.json)" in sections()[name]
        assert f"[`{schema['title']}`](#{name})" in PAGE


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_every_example_on_the_page_is_what_its_schema_says(name: str) -> None:
    found = examples(name)
    assert len(found) == 1
    check(name, found[0])


def test_every_message_of_the_program_is_what_its_schema_says() -> None:
    made = produced()
    for name, payload in made:
        check(name, json.loads(json.dumps(payload)))
    assert {name for name, _ in made} == set(SCHEMAS)


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_a_schema_allows_no_key_more_and_no_key_less(name: str) -> None:
    (example,) = examples(name)
    with pytest.raises(ValidationError, match="unexpected"):
        check(name, example | {"more": 1})
    for key in example:
        with pytest.raises(ValidationError, match=f"'{key}' is a required property"):
            check(name, {k: v for k, v in example.items() if k != key})


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_a_schema_wants_times_in_utc(name: str) -> None:
    (example,) = examples(name)
    for wrong in ("2026-06-03T11:30:00+02:00", "2026-06-03 11:30:00Z", 1780486200):
        with pytest.raises(ValidationError):
            check(name, example | {"time": wrong})


def test_the_page_explains_every_state_and_priority() -> None:
    for state in AlarmState:
        assert f"| `{state}` |" in sections()["alarm"]
    for priority in Priority:
        assert f"`{priority}`" in sections()["alert"]
