"""What was said by mistake is taken back: nothing of it is left but a note."""

import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from engine.kitchen import STATION
from engine.test_pipeline import Kitchen
from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.recording import EVENTS
from noonpot.store.export import export
from noonpot.store.takeback import UNDOABLE
from simday import at

AIM = {"azimuth": "120", "elevation": "50"}
BREAD = {"food": "bread", "mass_kg": "0.6"}
SAID: dict[EventKind, dict[str, str]] = {
    EventKind.AIM: AIM,
    EventKind.LOAD: BREAD,
    EventKind.LID: {},
    EventKind.SPOT: {"core_c": "41"},
    EventKind.NOTE: {"text": "a wind from the west"},
    EventKind.UNLOAD: {},
    EventKind.STOP: {},
}


class Desk(Kitchen):
    """A kitchen in which every word has the name of a letter, as from the inbox."""

    def say(self, uid: str, kind: EventKind, **detail: str) -> str:
        """Say something; returns why it was refused, "" when it was not."""
        return self.happen(kind, uid=uid, **detail).get(0, "")

    def undo(self, letter: str) -> str:
        return self.say(f"undo-{letter}", EventKind.UNDO, letter=letter)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    desk = Desk(tmp_path, FakeClock(at("09:00")))
    yield desk
    desk.store.close()


def state(desk: Desk) -> object:
    cook = desk.watch.cook
    return cook and replace(cook, id=0)


def stands(desk: Desk, now: Moment) -> tuple[object, ...]:
    facts = desk.watch.facts(now)
    return facts.target_c, facts.safety and facts.safety.spoils_at, facts.misaim_deg


@pytest.mark.parametrize("kind", SAID)
def test_what_is_taken_back_was_never_said(desk: Desk, kind: EventKind) -> None:
    desk.say("a", EventKind.START, food="chicken")
    desk.say("b", EventKind.AIM, azimuth="95", elevation="40")
    if kind in (EventKind.UNLOAD, EventKind.STOP):
        desk.say("c", EventKind.LOAD, mass_kg="1", start_c="8")
    desk.heat("box-core", 12.0, 20)
    before, stood = state(desk), stands(desk, desk.clock.moment())
    assert desk.say("slip", kind, **SAID[kind]) == ""
    desk.clock.advance(30)
    assert desk.undo("slip") == ""
    assert state(desk) == before
    desk.heat("box-core", 12.0, 2)
    assert stands(desk, desk.clock.moment())[:2] == stood[:2]
    assert [cook.running for cook in desk.store.cooks()] == [True]


def test_a_cook_that_was_begun_by_mistake_is_not_listed(desk: Desk) -> None:
    desk.say("a", EventKind.LOAD, **BREAD)
    assert desk.undo("a") == ""
    assert desk.watch.cook is None
    assert list(desk.store.cooks()) == []
    assert desk.say("b", EventKind.START, food="rice") == ""
    assert [cook.food for cook in desk.store.cooks()] == ["rice"]


def test_the_record_keeps_a_note_of_it(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.say("b", EventKind.LOAD, mass_kg="0.6")
    desk.undo("b")
    now = desk.clock.moment().at
    told = desk.store.events_of("box", at("09:00"), now)
    assert [event.kind for event in told] == [EventKind.START, EventKind.NOTE, EventKind.UNDO]
    assert told[1].detail == {"text": "taken back: load mass_kg=0.6"}
    rows = export(desk.store, 1, STATION, now).rows
    assert {row.event for row in rows} - {None} <= set(EVENTS)


def test_after_a_minute_it_is_part_of_the_record(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.clock.advance(65)
    assert "more than 60 s ago" in desk.undo("a")
    assert desk.watch.cook is not None


def test_nothing_is_taken_back_twice_nor_what_was_not_said(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.say("b", EventKind.LID)
    assert desk.undo("b") == ""
    assert "taken back already" in desk.say("again", EventKind.UNDO, letter="b")
    assert "nothing to take back" in desk.undo("never")
    assert "nothing to take back" in desk.say("c", EventKind.UNDO)


def test_an_answer_to_an_alarm_cannot_be_taken_back(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.say("b", EventKind.ACKNOWLEDGE, alarm="turn")
    assert "cannot be taken back" in desk.undo("b")


def test_what_others_rest_on_stays(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.say("b", EventKind.LOAD)
    desk.say("c", EventKind.UNLOAD)
    assert "nothing is in the pot" in desk.undo("b")
    assert desk.undo("c") == ""
    assert desk.watch.cook is not None
    assert desk.watch.cook.load is not None


def test_a_cook_is_not_taken_up_again_when_another_has_begun(desk: Desk) -> None:
    desk.say("a", EventKind.START, food="bread")
    desk.clock.advance(5)
    desk.say("b", EventKind.STOP)
    desk.clock.advance(5)
    desk.say("c", EventKind.START, food="rice")
    assert "another cook has begun" in desk.undo("b")
    assert [cook.running for cook in desk.store.cooks()] == [False, True]


def test_a_restart_and_an_undo_come_to_the_same_cook(tmp_path: Path) -> None:
    seed = random.randrange(1 << 32)
    print(f"seed {seed}")
    dice = random.Random(seed)
    for number in range(20):
        folder = tmp_path / str(number)
        folder.mkdir()
        desk = Desk(folder, FakeClock(at("09:00")))
        said: list[str] = []
        for turn in range(dice.randrange(2, 9)):
            kind = dice.choice([k for k in UNDOABLE if k is not EventKind.START])
            letter = f"{turn}"
            if desk.say(letter, kind, **SAID[kind]) == "":
                said.append(letter)
            desk.clock.advance(dice.randrange(1, 8))
            if said and dice.random() < 0.4:
                desk.undo(said.pop())
        kept = [replace(cook, id=0) for cook in desk.store.running_cooks()]
        told = [state(desk)] if desk.watch.cook else []
        assert [c.load for c in kept] == [c.load for c in told], seed  # type: ignore[attr-defined]
        assert [c.aim for c in kept] == [c.aim for c in told], seed  # type: ignore[attr-defined]
        desk.store.close()


def test_a_stranger_is_told_that_there_is_no_such_cooker(desk: Desk) -> None:
    now = desk.clock.moment()
    refused = desk.pipeline.round(now, [], [Event("dish", now.at, EventKind.UNDO, {"letter": "a"})])
    assert refused == {0: "there is no cooker named 'dish'"}
