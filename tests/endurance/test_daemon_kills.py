"""The whole daemon killed with kill -9 again and again, while people hand in letters."""

import random
import signal
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK
from endurance.extent import FULL, Tell, chance
from faults.field import COOKERS, COOL_C, HOT_C, Field, heard
from noonpot.core.cook import Event, EventKind
from noonpot.errors import StoreError
from noonpot.store.inbox import hand_in

KILLS, LONGEST_S = 50, 4.0
NEVER = threading.Event()

pytestmark = pytest.mark.skipif(not FULL, reason="takes minutes: NOONPOT_ENDURANCE=full")


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def field(tmp_path: Path, broker: Broker) -> Iterator[Field]:
    field = Field(tmp_path, broker.port)
    yield field
    field.end(signal.SIGKILL)


class Person:
    """Hands in note after note; each is safe once it is handed in."""

    def __init__(self, inbox: Path) -> None:
        self.said: list[str] = []
        self._inbox = inbox

    def note(self) -> None:
        """One more."""
        number = str(len(self.said))
        event = Event("box", CLOCK.moment().at, EventKind.NOTE, {"text": number})
        hand_in(self._inbox, event)
        self.said.append(number)


def lived(field: Field, person: Person, dice: random.Random, seconds: float) -> None:
    """So long a person writes and pots get hot or cool."""
    end_s = CLOCK.moment().mono_s + seconds
    while CLOCK.moment().mono_s < end_s:
        with suppress(StoreError):  # the folder is not there before the first start is over
            person.note()
        if dice.random() < 0.06:
            field.show(dice.choice((COOL_C, HOT_C)))
        CLOCK.wait(NEVER, dice.uniform(0.0, 0.2))


def written(field: Field) -> tuple[int, set[int]]:
    """How many alerts stand in the data file, and which readings; seen by another process."""
    (alerts,) = field.select("SELECT count(*) FROM alert")[0]
    return int(alerts), {number for (number,) in field.select("SELECT id FROM reading")}


def test_a_daemon_killed_again_and_again_loses_no_letter_no_alert_and_no_reading(
    tmp_path: Path, broker: Broker, field: Field, figure: Tell
) -> None:
    dice = chance()
    file = tmp_path / "data" / "noonpot.db"
    person = Person(tmp_path / "data" / "inbox")
    with Phone(broker.port, "noonpot/#") as phone:
        field.start()
        field.cook()
        for _ in range(KILLS):
            lived(field, person, dice, dice.uniform(0.0, LONGEST_S))
            alerts, readings = written(field)
            field.end(signal.SIGKILL)
            with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
                assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
            field.start()
            after = written(field)
            assert after[0] >= alerts
            assert after[1] >= readings, "readings are gone"
        lived(field, person, dice, 0.5)
        field.show(HOT_C)
        field.wait(lambda: field.stored("preheated") >= len(COOKERS), "pots that are hot are told")
        field.wait(lambda: len(notes(field)) == len(person.said), "all letters are taken")
        field.wait(lambda: heard(phone) == field.outbox(), "all alerts have come, each in order")
        told = sum(map(len, field.outbox().values()))
        doubles = len(notes(field)) - len(set(notes(field)))
    figure(
        1,
        f"{KILLS} times kill -9 of the whole daemon, {len(COOKERS)} pots, a letter each 0.1 s",
        f"{len(set(person.said) - set(notes(field)))} of {len(person.said)} letters lost, "
        f"{doubles} doubled, 0 readings gone, {told} alerts all told",
        "0, 0, 0, all",
    )
    assert sorted(notes(field), key=int) == person.said


def notes(field: Field) -> list[str]:
    """The notes in the data file."""
    rows = field.select("SELECT json_extract(detail, '$.text') FROM event WHERE kind = 'note'")
    return [text for (text,) in rows]
