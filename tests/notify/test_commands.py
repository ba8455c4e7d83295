"""Commands from the phone: what counts, what is refused and counted, and that nothing else passes.

The inbox behind it is the real folder. Sources: reliability promises 20 and 22 of our own plan; the
meaning of a retained message: MQTT 5.0, section 3.3.1.3.
"""

import json
import logging
import random
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fakes import FakeClock
from noonpot.core.alert import Answer
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import iso
from noonpot.core.orders import Known
from noonpot.notify.commands import FRESH_S, MOST_BYTES, MOST_IDS, Commands, Refusal, came_of
from noonpot.ports import Batch, Health, Letter
from noonpot.store.inbox import FileInbox, hand_in
from store.shelf import opened

TOKEN = "secret-of-the-garden"  # noqa: S105  of a garden that there is not
KNOWN = Known(cookers=["box", "iron"], alarms=["done", "turn"], foods=["bread"])
TO = "noonpot/garden/box/do/acknowledge"
FUZZ_CASES = 50_000


class Desk:
    """A station that hears commands, with a real inbox."""

    def __init__(self, folder: Path, clock: FakeClock | None = None) -> None:
        self.clock = clock or FakeClock()
        self.health = Health()
        self.folder = folder
        self.inbox = FileInbox(folder, lambda _: False)
        self.commands = Commands("garden", TOKEN, KNOWN, self.clock, self.health, self.take)

    def take(self, event: Event, name: str) -> None:
        hand_in(self.folder, event, name)

    def body(self, **changes: object) -> dict[str, object]:
        """A right command to acknowledge ``done``, with changes; None leaves a key out."""
        right: dict[str, object] = {
            "id": "command-1",
            "time": iso(self.clock.moment().at),
            "token": TOKEN,
            "alarm": "done",
        }
        return {key: value for key, value in (right | changes).items() if value is not None}

    def hear(self, body: object, to: str = TO, *, retained: bool = False) -> Answer | None:
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.commands.hear(to, raw, retained=retained)

    def events(self) -> list[Event]:
        """What was handed in and not fetched yet, without the names of the letters."""
        found = [letter.event for letter in self.inbox.take()]
        return [
            Event(e.cooker, e.at, e.kind, {k: v for k, v in e.detail.items() if k != "uid"})
            for e in found
        ]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "inbox")


def test_a_right_command_is_handed_in_under_the_time_of_the_station(desk: Desk) -> None:
    desk.clock.advance(-20)
    body = desk.body()
    desk.clock.advance(20)
    assert desk.hear(body) is None
    assert desk.events() == [
        Event("box", desk.clock.moment().at, EventKind.ACKNOWLEDGE, {"alarm": "done"})
    ]
    assert desk.health.counts == {"do-taken": 1}


REFUSED: list[tuple[Refusal, str, dict[str, Any], bool]] = [
    (Refusal.UNKNOWN, "noonpot/garden/tin/do/acknowledge", {}, False),
    (Refusal.UNKNOWN, "noonpot/garden/box/do/explode", {}, False),
    (Refusal.UNKNOWN, "noonpot/shed/box/do/acknowledge", {}, False),
    (Refusal.UNKNOWN, "box/do/acknowledge", {}, False),
    (Refusal.UNKNOWN, "noonpot/garden//do/acknowledge", {}, False),
    (Refusal.UNKNOWN, TO + "/more", {}, False),
    (Refusal.OVERSIZED, TO, {"alarm": "x" * MOST_BYTES}, False),
    (Refusal.UNAUTHORISED, TO, {"token": TOKEN[:-1]}, False),
    (Refusal.UNAUTHORISED, TO, {"token": TOKEN + "x"}, False),
    (Refusal.UNAUTHORISED, TO, {"token": ""}, False),
    (Refusal.UNAUTHORISED, TO, {"token": [TOKEN]}, False),
    (Refusal.UNAUTHORISED, TO, {"token": "\ud800"}, False),
    (Refusal.MALFORMED, TO, {"token": None}, False),
    (Refusal.MALFORMED, TO, {"id": None}, False),
    (Refusal.MALFORMED, TO, {"id": "../../x"}, False),
    (Refusal.MALFORMED, TO, {"id": "short"}, False),
    (Refusal.MALFORMED, TO, {"id": 12345678}, False),
    (Refusal.MALFORMED, TO, {"id": "line-end\n"}, False),
    (Refusal.MALFORMED, TO, {"time": "noon"}, True),
    (Refusal.MALFORMED, TO, {"time": "2026-02-30T09:00:00Z"}, True),
    (Refusal.MALFORMED, TO, {"time": "2026-06-03T07:00:00+00:00"}, True),
    (Refusal.MALFORMED, TO, {"time": 1780470000}, True),
    (Refusal.MALFORMED, TO, {"alarm": None}, True),
    (Refusal.MALFORMED, TO, {"alarm": "unheard-of"}, True),
    (Refusal.MALFORMED, TO, {"alarm": {"$ne": ""}}, True),
    (Refusal.MALFORMED, TO, {"more": 1}, True),
    (Refusal.MALFORMED, "noonpot/garden/box/do/shelve", {"minutes": 10**400}, True),
]


@pytest.mark.parametrize(("why", "to", "changes", "answered"), REFUSED)
def test_whatever_is_wrong_with_a_command_is_counted_and_does_nothing(
    desk: Desk, why: Refusal, to: str, changes: dict[str, object], answered: bool
) -> None:
    answer = desk.hear(desk.body(**changes), to)
    assert (answer is not None) == answered
    assert answer is None or (answer.id == "command-1" and not answer.done)
    assert desk.health.counts == {f"do-{why}": 1}
    assert desk.events() == []


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\xff\xfe\x00",
        b"null",
        b"[]",
        b'"text"',
        b"[" * MOST_BYTES,
        b'{"a":' * 700,
        b"9" * MOST_BYTES,
        b'{"id": NaN}',
    ],
)
def test_what_is_no_command_at_all_is_malformed(desk: Desk, raw: bytes) -> None:
    assert desk.hear(raw) is None
    assert desk.health.counts == {"do-malformed": 1}


def test_a_key_that_comes_twice_is_malformed_even_with_the_right_token(desk: Desk) -> None:
    raw = json.dumps(desk.body()).encode().replace(b'{"id"', b'{"alarm": "turn", "id"')
    assert desk.hear(raw) is None
    assert desk.health.counts == {"do-malformed": 1}


def test_a_retained_command_is_refused_however_right_it_is(desk: Desk) -> None:
    assert desk.hear(desk.body(), retained=True) is None
    assert desk.health.counts == {"do-retained": 1}
    assert desk.events() == []


@pytest.mark.parametrize(
    ("age_s", "why"),
    [
        (FRESH_S, None),
        (FRESH_S + 1, Refusal.STALE),
        (1e9, Refusal.STALE),
        (-FRESH_S, None),
        (-FRESH_S - 1, Refusal.FUTURE),
    ],
)
def test_a_command_must_be_of_this_minute(desk: Desk, age_s: float, why: Refusal | None) -> None:
    given = iso(desk.clock.moment().at - timedelta(seconds=age_s))
    answer = desk.hear(desk.body(time=given))
    assert len(desk.events()) == (why is None)
    assert desk.health.counts == {f"do-{why or 'taken'}": 1}
    assert (answer is None) == (why is None)
    assert answer is None or "clock" in answer.text


def test_a_station_without_the_time_takes_no_commands_and_says_what_else_to_do(desk: Desk) -> None:
    desk.clock.trust(False)
    answer = desk.hear(desk.body())
    assert answer is not None
    assert "'noonpot cook'" in answer.text
    assert desk.health.counts == {"do-clock-not-set": 1}
    desk.clock.trust(True)
    assert desk.hear(desk.body()) is None
    assert len(desk.events()) == 1


def test_what_comes_twice_happens_once_and_is_not_answered_again(desk: Desk) -> None:
    body = desk.body()
    for _ in range(3):
        assert desk.hear(body) is None
    assert len(desk.events()) == 1
    assert desk.health.counts == {"do-taken": 1, "do-replayed": 2}


def test_a_refused_command_may_be_mended_and_keep_its_id(desk: Desk) -> None:
    assert desk.hear(desk.body(alarm="dine")) is not None
    assert desk.hear(desk.body()) is None
    assert len(desk.events()) == 1


def test_what_was_overheard_happens_no_second_time_after_a_restart(tmp_path: Path) -> None:
    folder = tmp_path / "inbox"
    desk = Desk(folder)
    body = desk.body()
    with opened(tmp_path / "noonpot.db", desk.clock) as store:
        inbox = FileInbox(folder, store.knows_event)
        desk.hear(body)
        (letter,) = inbox.take()
        store.write(desk.clock.moment(), Batch(events=[letter.event]))
        inbox.done(letter)
        again = Desk(folder, desk.clock)
        again.hear(body)
        assert again.health.counts == {
            "do-taken": 1
        }  # only the store remembers, and that is enough
        assert FileInbox(folder, store.knows_event).take() == []


def test_a_command_taken_before_a_crash_is_there_after_it(desk: Desk) -> None:
    desk.hear(desk.body())
    desk.inbox = FileInbox(desk.folder, lambda _: False)
    assert [event.kind for event in desk.events()] == [EventKind.ACKNOWLEDGE]


def test_commands_are_taken_in_the_order_in_which_they_were_given(desk: Desk) -> None:
    for number, alarm in ((9, "done"), (1, "turn"), (5, "done")):
        desk.clock.advance(1)
        desk.hear(desk.body(id=f"command-{number}", alarm=alarm))
    assert [event.detail["alarm"] for event in desk.events()] == ["done", "turn", "done"]


def test_a_card_that_takes_no_more_is_told_and_the_command_can_be_given_again(
    tmp_path: Path,
) -> None:
    desk = Desk(tmp_path / "inbox")
    away = tmp_path / "away"
    desk.folder.rename(away)
    answer = desk.hear(desk.body())
    assert answer is not None
    assert answer.text.startswith("inbox ")
    assert desk.health.counts == {"do-unwritten": 1}
    away.rename(desk.folder)
    assert desk.hear(desk.body()) is None
    assert len(desk.events()) == 1


def test_an_id_forgotten_in_memory_still_has_the_name_by_which_the_store_knows_it(
    desk: Desk,
) -> None:
    taken: list[str] = []
    commands = Commands(
        "garden", TOKEN, KNOWN, desk.clock, desk.health, lambda _, name: taken.append(name)
    )
    for number in range(MOST_IDS + 1):
        raw = json.dumps(desk.body(id=f"command-{number}")).encode()
        assert commands.hear(TO, raw, retained=False) is None
    for forgotten, known in ((0, MOST_IDS + 2), (MOST_IDS, MOST_IDS + 2)):
        raw = json.dumps(desk.body(id=f"command-{forgotten}")).encode()
        commands.hear(TO, raw, retained=False)
        assert len(taken) == known
    assert len(set(taken)) == MOST_IDS + 1


def test_neither_the_log_nor_an_answer_nor_the_letter_shows_the_token(
    desk: Desk, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    answers = [desk.hear(desk.body(**changes), to) for _, to, changes, _ in REFUSED]
    desk.hear(desk.body())
    letters = "".join(path.read_text() for path in desk.folder.glob("*.json"))
    assert "acknowledge" in letters
    assert TOKEN[:8] not in letters + caplog.text + str(answers)
    assert caplog.text


def test_a_flood_is_counted_and_hardly_logged(desk: Desk, caplog: pytest.LogCaptureFixture) -> None:
    for _ in range(1000):
        desk.hear(b"flood")
    assert desk.health.counts == {"do-malformed": 1000}
    assert len(caplog.records) == 10  # 1, 2, 4 … 512


def test_the_answer_names_the_command_whatever_became_of_it() -> None:
    clock = FakeClock()
    event = Event("box", clock.moment().at, EventKind.LID, {})
    letter = Letter("1780470000.000000-phone-command-1", event)
    assert came_of(letter, "") == Answer(
        "command-1", "box", "mark", done=True, text="box: lid noted"
    )
    refused = came_of(letter, "nothing is in the pot")
    assert refused == Answer("command-1", "box", "mark", done=False, text="nothing is in the pot")
    typed = Letter("1780470000.000000-000001-0123456789abcdef0123456789abcdef", event)
    assert came_of(typed, "") is None


@given(st.text(max_size=80), st.binary(max_size=200), st.booleans())
def test_whatever_comes_under_whatever_topic_harms_nothing_and_passes_never(
    to: str, body: bytes, retained: bool
) -> None:
    refuse_all(to, body, retained=retained)
    refuse_all(TO, body, retained=retained)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=10,
)


@given(
    st.sampled_from(["aim", "load", "unload", "mark", "acknowledge", "shelve"]),
    st.dictionaries(st.sampled_from(["id", "time", "token", "alarm", "what", "food"]), JSON),
)
def test_whatever_json_comes_without_the_token_passes_never(
    verb: str, body: dict[str, object]
) -> None:
    refuse_all(f"noonpot/garden/box/do/{verb}", json.dumps(body).encode(), retained=False)


def refuse_all(to: str, body: bytes, *, retained: bool) -> None:
    """Hear one message that must be refused."""
    health = Health()

    def taken(event: Event, name: str) -> None:
        raise AssertionError(f"taken: {event} {name}")

    commands = Commands("garden", TOKEN, KNOWN, FakeClock(), health, taken)
    assert commands.hear(to, body, retained=retained) is None
    assert sum(health.counts.values()) == 1


def test_no_damaged_command_of_very_many_does_harm() -> None:
    """Right commands with some bytes changed: refused, or taken as one that may be given."""
    taken: list[Event] = []
    clock, health = FakeClock(), Health()
    commands = Commands("garden", TOKEN, KNOWN, clock, health, lambda event, _: taken.append(event))
    common: dict[str, object] = {"time": iso(clock.moment().at), "token": TOKEN}
    originals: list[tuple[str, dict[str, object]]] = [
        ("aim", {"azimuth": 94.5, "elevation": 37}),
        ("load", {"food": "bread", "mass_kg": 0.6, "start_c": 27}),
        ("mark", {"what": "note", "text": "stirred"}),
        ("shelve", {"alarm": "turn", "minutes": 60}),
    ]
    for number in range(FUZZ_CASES):
        verb, rest = random.choice(originals)
        raw = bytearray(json.dumps(common | rest | {"id": f"command-{number}"}).encode())
        for _ in range(random.choice((1, 1, 2, 8))):
            place = random.randrange(len(raw))
            match random.randrange(3):
                case 0:
                    raw[place] = random.randrange(256)
                case 1:
                    del raw[place]
                case _:
                    raw[place:place] = raw[random.randrange(len(raw)) :][: random.randrange(9)]
        commands.hear(f"noonpot/garden/box/do/{verb}", bytes(raw), retained=False)
    counts = health.counts
    print(f"{FUZZ_CASES} damaged commands: {dict(sorted(counts.items()))}")
    assert sum(counts.values()) == FUZZ_CASES
    assert len(taken) == counts["do-taken"] < FUZZ_CASES / 2
    for event in taken:
        if event.kind is EventKind.AIM:
            assert 0 <= float(event.detail["azimuth"]) <= 360
            assert 0 <= float(event.detail["elevation"]) <= 90
        assert event.detail.get("food", "bread") == "bread"
        assert event.detail.get("alarm", "turn") in KNOWN.alarms
