"""What strangers send is read as it is meant, or refused; nothing in between."""

import copy
import json
import random
import re
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from fleet.play import AT, alarm, body, garden
from noonpot.core.alarms import AlarmState
from noonpot.core.sighting import Chance, Stand, Standing, address
from noonpot.core.sightreading import LONGEST_TEXT, sighting
from noonpot.core.strictjson import parsed
from notify.test_messages_doc import SCHEMAS, produced

STRANGE: list[Any] = [
    None, True, False, 0, -1, 1e308, 10**400, "", "x" * 5000, "2026-99-99T00:00:00Z", [], {},
    [None], [[]], {"a": 1}, "\x1b[2J", "\u202eabc", "<b>", "NaN", -1e308, "offline", "urgent",
]  # fmt: skip
TOPICS = {
    "status": "noonpot/garden/status",
    "health": "noonpot/garden/health",
    "now": "noonpot/garden/box/now",
    "forecast": "noonpot/garden/box/forecast",
    "alarm": "noonpot/garden/box/alarm/no-news",
}


def read(topic: str, raw: bytes) -> object:
    return sighting(address(topic), parsed(raw))


def refusal(topic: str, raw: bytes) -> str | None:
    """Why it is refused, None when it is taken."""
    try:
        read(topic, raw)
    except ValueError as error:
        return str(error)
    return None


def test_every_message_of_the_program_is_read() -> None:
    kinds = set()
    for name, payload in produced():
        if name in TOPICS:
            kinds.add(type(read(TOPICS[name], body(payload))))
    assert len(kinds) == len(TOPICS)


def test_what_was_said_is_what_was_read() -> None:
    said = {topic: read(topic, body(payload)) for topic, payload in garden().items()}
    stand = said["noonpot/garden/box/now"]
    assert isinstance(stand, Stand)
    assert (stand.pot_c, stand.core_c, stand.food, stand.mass_kg) == (124.31, 71.5, "bread", 0.6)
    assert stand.loaded
    assert stand.hazardous
    chance = said["noonpot/garden/box/forecast"]
    assert isinstance(chance, Chance)
    assert chance.p_done == 0.93
    assert chance.done_p50 is not None
    assert (chance.done_p50 - AT).total_seconds() == 52 * 60
    done = said["noonpot/garden/box/alarm/done"]
    assert isinstance(done, Standing)
    assert done.waits


def test_a_message_is_not_taken_from_a_station_that_names_another() -> None:
    for topic in (
        "noonpot/orchard/box/alarm/done",
        "noonpot/garden/dish/alarm/done",
        "noonpot/garden/box/alarm/turn",
    ):
        with pytest.raises(ValueError, match="another"):
            read(topic, body(alarm()))


@pytest.mark.parametrize(
    "topic",
    [
        "noonpot/garden/box/do/load",  # it carries a secret
        "noonpot/garden/alert",
        "noonpot//status",
        "noonpot/garden//now",
        "noonpot/garden/box/alarm/",
        "noonpot/Garden/status",
        "noonpot/gar den/status",
        "noonpot/garden/<script>/now",
        "noonpot/garden/\x1b[2j/now",
        "noonpot/garden/station/now",  # no cooker has that name
        "other/garden/status",
        "noonpot/" + "a" * 41 + "/status",
        "noonpot/garden/status/more",
        "",
    ],
)
def test_a_topic_that_no_station_has_is_refused(topic: str) -> None:
    with pytest.raises(ValueError, match="topic"):
        address(topic)


def mutated(payload: Any, chance: random.Random) -> Any:
    """The message with one thing in it changed, at any depth."""
    changed = copy.deepcopy(payload)
    spots: list[tuple[Any, Any]] = []

    def walk(inside: Any) -> None:
        pairs = inside.items() if isinstance(inside, dict) else enumerate(inside)
        for key, value in list(pairs):
            spots.append((inside, key))
            if isinstance(value, dict | list):
                walk(value)

    walk(changed)
    inside, key = chance.choice(spots)
    if isinstance(inside, dict) and chance.random() < 0.2:
        del inside[key]
    else:
        inside[key] = chance.choice(STRANGE)
    return changed


def test_what_no_station_would_send_is_refused_and_never_an_error() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    validators = {name: Draft202012Validator(SCHEMAS[name]) for name in TOPICS}
    messages = [(n, json.loads(body(p))) for n, p in produced() if n in TOPICS]
    refused = taken = 0
    for _ in range(1200):
        name, payload = chance.choice(messages)
        strange = mutated(payload, chance)
        why = refusal(TOPICS[name], json.dumps(strange).encode())
        refused += why is not None
        taken += why is None
        if why is not None and validators[name].is_valid(strange):
            # what the schema allows is only refused for a value that cannot be
            assert re.search("another|cannot be|month must be", why)
    assert refused > 100
    assert taken > 100  # keys that this list does not show may be as they like


@pytest.mark.parametrize(
    "raw",
    [b"", b"\xff", b"{", b"[]", b"null", b"1", b'{"time":1}', b'{"a":1,"a":2}', b"[" * 60_000],
)
def test_what_is_no_message_at_all_is_refused(raw: bytes) -> None:
    assert refusal("noonpot/garden/status", raw) is not None


def test_a_text_that_would_move_the_cursor_or_turn_letters_is_made_plain() -> None:
    hostile = "\x1b[2J\x07ring \u202eevil\u2028 <b>" + "x" * 1000
    said = read(TOPICS["alarm"], body({**alarm(name="no-news"), "text": hostile}))
    assert isinstance(said, Standing)
    assert said.text.isprintable()
    assert said.text.startswith(" [2J ring  evil  <b>x")
    assert len(said.text) == LONGEST_TEXT


def test_answered_and_normal_alarms_do_not_wait() -> None:
    waiting = [s for s in AlarmState if _said(s).waits]
    known = [s for s in AlarmState if _said(s).known]
    assert waiting == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED]
    assert known == [AlarmState.ACKNOWLEDGED, AlarmState.SHELVED]


def _said(state: AlarmState) -> Standing:
    said = read("noonpot/garden/box/alarm/done", body(alarm(state=state)))
    assert isinstance(said, Standing)
    return said
