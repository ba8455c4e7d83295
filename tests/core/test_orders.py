"""What can be said from the page; and from the phone, where docs/schemas/do.json, docs/messages.md
and the program agree.
"""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from noonpot.core.cook import EventKind
from noonpot.core.orders import (
    PHONE_VERBS,
    Known,
    Verb,
    aim_at,
    is_turned,
    kind_and_detail,
    verb_of,
)
from noonpot.errors import CookError

DOCS = Path(__file__).parents[2] / "docs"
SCHEMA = json.loads((DOCS / "schemas" / "do.json").read_text())
SECTION = (DOCS / "messages.md").read_text().split("\n## do\n")[1].split("\n## ")[0]
KNOWN = Known(cookers=["box"], alarms=["done", "turn"], foods=["bread", "stew"])
COMMON = {"id": "command-1", "time": "2026-06-03T09:31:40Z", "token": "a token for tests only"}

GOOD: list[tuple[str, dict[str, Any], EventKind, dict[str, str]]] = [
    (
        "aim",
        {"azimuth": 94.5, "elevation": 37},
        EventKind.AIM,
        {"azimuth": "94.5", "elevation": "37"},
    ),
    ("load", {}, EventKind.LOAD, {}),
    (
        "load",
        {"food": "bread", "mass_kg": 0.6, "start_c": 27, "target_c": 94.25},
        EventKind.LOAD,
        {"food": "bread", "mass_kg": "0.6", "start_c": "27", "target_c": "94.25"},
    ),
    (
        "load",
        {"meal": "2026-06-03T18:00:00.5Z"},
        EventKind.LOAD,
        {"meal": "2026-06-03T18:00:00Z"},
    ),
    ("unload", {}, EventKind.UNLOAD, {}),
    ("mark", {"what": "lid"}, EventKind.LID, {}),
    ("mark", {"what": "note", "text": "stirred"}, EventKind.NOTE, {"text": "stirred"}),
    ("mark", {"what": "spot", "core_c": -3.5}, EventKind.SPOT, {"core_c": "-3.5"}),
    ("acknowledge", {"alarm": "done"}, EventKind.ACKNOWLEDGE, {"alarm": "done"}),
    ("shelve", {"alarm": "turn"}, EventKind.SHELVE, {"alarm": "turn"}),
    (
        "shelve",
        {"alarm": "turn", "minutes": 60},
        EventKind.SHELVE,
        {"alarm": "turn", "minutes": "60"},
    ),
]


def schema_takes(verb: str, said: dict[str, object]) -> bool:
    schema = {"$ref": f"#/$defs/{verb}", "$defs": SCHEMA["$defs"]}
    return bool(Draft202012Validator(schema).is_valid(COMMON | said))


@pytest.mark.parametrize(("verb", "said", "kind", "detail"), GOOD)
def test_what_may_be_said_becomes_the_event_of_the_command_line(
    verb: str, said: dict[str, object], kind: EventKind, detail: dict[str, str]
) -> None:
    assert schema_takes(verb, said)
    assert kind_and_detail(Verb(verb), said, KNOWN) == (kind, detail)
    assert verb_of(kind) == verb


@pytest.mark.parametrize(
    ("verb", "said", "told"),
    [
        ("aim", {"azimuth": 94.5}, "aim: elevation must be a number from 0 to 90"),
        ("aim", {"azimuth": True, "elevation": 3}, "aim: azimuth must be a number from 0 to 360"),
        ("aim", {"azimuth": 1, "elevation": 1, "tilt": 1}, "aim has no key 'tilt'; leave it out"),
        ("load", {"food": "bred"}, "load: food must be a known name; did you mean bread?"),
        ("load", {"mass_kg": 0}, "load: mass_kg must be a number from 0.001 to 50"),
        ("load", {"meal": "18:00"}, "load: meal must be a time in UTC, like 2026-06-03T18:00:00Z"),
        ("mark", {}, "mark: what must be a known name; choose from lid, note, spot"),
        ("mark", {"what": "stop"}, "mark: what must be a known name; choose from lid, note, spot"),
        ("mark", {"what": "lid", "text": "x"}, "mark lid has no key 'text'; leave it out"),
        (
            "mark",
            {"what": "note", "text": "a\nb"},
            "mark note: text must be 1 to 200 letters in one line",
        ),
        ("mark", {"what": "spot", "core_c": 390}, "mark spot: core_c must be a number from -20 to"),
        ("mark", {"what": "spot", "core_c": -21}, "mark spot: core_c must be a number from -20 to"),
        ("acknowledge", {"alarm": "dine"}, "acknowledge: alarm must be a known name; did you mean"),
        ("shelve", {"alarm": "turn", "minutes": 121}, "shelve: minutes must be a number from 1 to"),
    ],
)
def test_what_cannot_be_is_named_with_its_cure(
    verb: str, said: dict[str, object], told: str
) -> None:
    with pytest.raises(CookError) as caught:
        kind_and_detail(Verb(verb), said, KNOWN)
    assert str(caught.value).startswith(told)


@pytest.mark.parametrize(
    ("verb", "said", "kind", "detail"),
    [
        ("start", {}, EventKind.START, {}),
        (
            "start",
            {"food": "bread", "target_c": 94, "meal": "2026-06-03T18:00:00Z"},
            EventKind.START,
            {"food": "bread", "target_c": "94", "meal": "2026-06-03T18:00:00Z"},
        ),
        ("stop", {}, EventKind.STOP, {}),
        (
            "verdict",
            {"cook": 12, "rating": 4, "crumb": "moist", "browning": " pale ", "text": "a bit flat"},
            EventKind.VERDICT,
            {
                "cook": "12",
                "rating": "4",
                "crumb": "moist",
                "browning": "pale",
                "text": "a bit flat",
            },
        ),
    ],
)
def test_the_page_may_also_begin_end_and_judge_a_cook(
    verb: str, said: dict[str, object], kind: EventKind, detail: dict[str, str]
) -> None:
    assert kind_and_detail(Verb(verb), said, KNOWN) == (kind, detail)
    assert verb not in PHONE_VERBS


@pytest.mark.parametrize(
    ("verb", "said", "told"),
    [
        ("start", {"mass_kg": 1}, "start has no key 'mass_kg'"),
        ("start", {"meal": "9999-12-31T23:59:59Z"}, "start: meal must be before the year 2200"),
        ("stop", {"food": "bread"}, "stop has no key 'food'"),
        ("verdict", {"rating": 4}, "verdict: cook must be a whole number from 1 to"),
        ("verdict", {"cook": 1, "rating": 4.5}, "verdict: rating must be a whole number from 1"),
        ("verdict", {"cook": True}, "verdict: cook must be a whole number from 1 to"),
        ("verdict", {"cook": 1, "crumb": "x" * 41}, "verdict: crumb must be 1 to 40 letters"),
    ],
)
def test_what_the_page_cannot_say_is_told_with_its_cure(
    verb: str, said: dict[str, object], told: str
) -> None:
    with pytest.raises(CookError) as caught:
        kind_and_detail(Verb(verb), said, KNOWN)
    assert str(caught.value).startswith(told)


def test_turned_is_said_by_a_mark_alone_and_with_nothing_else() -> None:
    assert is_turned(Verb.MARK, {"what": "turned"})
    assert not is_turned(Verb.MARK, {"what": "lid"})
    assert not is_turned(Verb.LOAD, {"what": "turned"})
    with pytest.raises(CookError, match="mark turned has no key 'azimuth'; leave it out"):
        is_turned(Verb.MARK, {"what": "turned", "azimuth": 1})


def test_a_cooker_is_aimed_at_the_sun_that_is_shown_while_it_is_up() -> None:
    sun = {"azimuth_deg": 123.4, "elevation_deg": 45.6, "up": True}
    assert aim_at(sun) == {"azimuth": "123.4", "elevation": "45.6"}
    assert aim_at(sun | {"up": False}) is None
    assert aim_at(None) is None


NUMBERS = st.one_of(
    st.integers(-500, 500), st.floats(-1, 500), st.just(10**400), st.just(float("inf"))
)
VALUES = st.one_of(
    NUMBERS,
    st.sampled_from(["bread", "done", "turn", "lid", "note", "spot", "start", "", " ", "No Name"]),
    st.sampled_from(["2026-06-03T18:00:00Z", "2026-06-03T18:00:00+02:00", "2026-06-03", "\n"]),
    st.booleans(),
    st.none(),
    st.lists(st.integers(), max_size=2),
)
KEYS = sorted({key for _, said, _, _ in GOOD for key in said} | {"more"})


@given(st.sampled_from(PHONE_VERBS), st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=3))
@example(Verb.MARK, {"what": ["lid"]})
def test_the_program_takes_what_the_schema_allows_and_nothing_else(
    verb: Verb, said: dict[str, object]
) -> None:
    for name in ("food", "alarm"):  # which names there are no schema knows
        if isinstance(said.get(name), str) and said[name] not in {"bread", "done"}:
            said[name] = "No Name"
    known = Known(["box"], alarms=["bread", "done"], foods=["bread", "done"])
    try:
        kind_and_detail(verb, said, known)
    except CookError:
        taken = False
    else:
        taken = True
    assert taken == schema_takes(verb, said)


def test_the_page_names_every_key_of_every_verb() -> None:
    for verb in PHONE_VERBS:
        (row,) = re.findall(rf"^\| `{verb}` \|.*$", SECTION, flags=re.MULTILINE)
        keys = {key for v, said, _, _ in GOOD for key in said if v == verb}
        assert {key for key in keys if f"`{key}`" not in row} == set()
    assert set(SCHEMA["$defs"]) >= {str(verb) for verb in PHONE_VERBS}


def test_the_example_on_the_page_is_what_the_schema_allows() -> None:
    (block,) = re.findall(r"```json\n(.*?)```", SECTION, flags=re.DOTALL)
    assert schema_takes("load", json.loads(block))
    assert Draft202012Validator(SCHEMA).is_valid(json.loads(block))
