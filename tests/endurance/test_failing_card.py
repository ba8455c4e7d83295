"""The card fails at any point of any write: alarms are told without it, and nothing is missing."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from endurance.card import FULL as CARD_FULL
from endurance.card import IOERR, READONLY, inserted, unreachable
from endurance.extent import FULL, Tell, chance
from endurance.failing_house import COMMIT_S, HOT_C, POLL_S, FailingCard, FailingHouse
from engine.kitchen import PROBES
from noonpot.core.cook import EventKind
from noonpot.engine import ledger

WRITES = ("open", "write", "sync", "truncate", "delete")
FAULTS = {
    "input or output": IOERR,
    "full": {"write": CARD_FULL},
    "read-only": dict.fromkeys(("write", "truncate", "delete"), READONLY),
    "input or output, once": IOERR,
}
MOST = 100
TOGETHER = 5
"""In short so many points of each fault are tried."""
DELAY_S = 60.0 + 10.0  # until a hot pot counts as hot, and until it is written
RECOVERY_S = 60.0

pytestmark = pytest.mark.skipif(bool(unreachable()), reason=unreachable())


def suffered(folder: Path, fault: str, number: int) -> tuple[int, int]:
    """One station whose card fails at the ``number``-th thing it is asked. Returns how many things
    it refused, and how many readings were missing a minute after it was well again.
    """
    card = FailingCard()
    with inserted(card):
        house = FailingHouse(folder)
        try:
            house.live(20)
            card.spoil(number, FAULTS[fault], once=fault.endswith("once"))
            house.happen(EventKind.NOTE, text="the card fails")
            house.live(90)
            house.pot_c = HOT_C
            house.live(DELAY_S)
            assert house.told("preheated") == 1, "the alarm did not come through"
            while not card.refused:
                house.live(10)
            if not fault.endswith("once"):
                house.live(60)
                assert house.told("storage") >= 1, "nobody heard that the card fails"
            refused = card.refused
            card.mend()
            house.live(RECOVERY_S)
            assert not house.pipeline.waiting
            missing = house.missing()
            house.live(60)
            assert house.own.records["storage"].active is False
            assert house.told("preheated") == 1
            assert not house.store.unsent("recording", 10), "an alert is told again and again"
        finally:
            card.mend()
            house.store.close()
    with closing(sqlite3.connect(house.path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        (alerts,) = db.execute("SELECT count(*) FROM alert WHERE alarm = 'preheated'").fetchone()
        (notes,) = db.execute("SELECT count(*) FROM event WHERE kind = 'note'").fetchone()
    assert (alerts, notes) == (1, 1)
    return refused, missing


@pytest.mark.parametrize("fault", FAULTS)
def test_a_card_that_fails_at_any_point_silences_nothing_and_loses_nothing(
    scratch: Path, figure: Tell, fault: str
) -> None:
    dice = chance()
    numbers = range(1, MOST + 1) if FULL else sorted(dice.sample(range(1, MOST + 1), TOGETHER))
    lost = refused = 0
    for number in numbers:
        folder = scratch / f"{number}"
        folder.mkdir()
        try:
            times, missing = suffered(folder, fault, number)
        except AssertionError as error:
            raise AssertionError(f"{fault} at {number}: {error}") from error
        lost, refused = lost + missing, refused + times
    figure(
        4,
        f"card fails ({fault}) at the n-th thing it is asked, {len(numbers)} n of 1 to {MOST}",
        f"0 crashes, all alarms told, {lost} readings missing {RECOVERY_S:.0f} s after it is well "
        f"again ({refused} things refused)",
        "0, all, 0",
    )
    assert lost == 0
    assert refused >= len(numbers)


def test_of_an_outage_longer_than_memory_holds_the_oldest_readings_are_missing_and_no_more(
    scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_s = 100.0
    monkeypatch.setattr(ledger, "MOST_KEPT", int(held_s / POLL_S) * len(PROBES))
    card = FailingCard()
    with inserted(card):
        house = FailingHouse(scratch)
        house.live(20)
        before = house.missing()
        card.spoil(1, IOERR)
        house.live(3 * held_s)
        card.mend()
        house.live(RECOVERY_S)
        missing = house.missing()
        house.store.close()
    assert before == 0
    lost_s = missing * POLL_S
    assert 2 * held_s - 2 * COMMIT_S <= lost_s <= 2 * held_s + 2 * COMMIT_S
