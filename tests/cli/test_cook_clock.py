"""What a person says at the command line, while the computer's clock is set."""

import json
from pathlib import Path

import pytest

from cli.terminal import Noonpot, garden
from fakes import FakeClock
from noonpot.app import machine
from noonpot.ports import Signal
from noonpot.settings.reading import load
from noonpot.store.inbox import FileInbox


class Stepped(FakeClock):
    """While somebody waits, the wall clock is set back more often than it goes on."""

    waits = 0

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        self.waits += 1
        assert self.waits < 1000, "this waits for ever"
        self.step_wall(-timeout_s)
        return super().wait(signal, timeout_s)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Stepped:
    clock = Stepped()
    monkeypatch.setattr(machine, "system_clock", lambda: clock)
    return clock


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    folder = load(garden(tmp_path)).data / "inbox"
    FileInbox(folder, lambda _: False)
    return folder


def test_a_letter_says_by_both_clocks_when_it_was_written(
    noonpot: Noonpot, inbox: Path, clock: Stepped
) -> None:
    mono_s = clock.moment().mono_s
    noonpot("cook", "start", "box", "--food", "bread")
    (letter,) = inbox.glob("*.json")
    body = json.loads(letter.read_text())
    assert (body.get("boot"), body.get("mono_s")) == (clock.boot_id, mono_s)


def test_the_answer_is_not_waited_for_any_longer_because_the_clock_is_set_back(
    noonpot: Noonpot, inbox: Path, clock: Stepped
) -> None:
    said = noonpot("cook", "start", "box", "--food", "bread")
    assert "no daemon has taken it yet" in said.out
    assert 4.0 < 0.1 * clock.waits < 6.0
    assert list(inbox.glob("*.json"))


def test_a_meal_cannot_be_told_by_a_clock_that_is_not_set(
    noonpot: Noonpot, inbox: Path, clock: Stepped
) -> None:
    clock.trust(False)
    said = noonpot("cook", "start", "box", "--food", "bread", "--meal", "18:00")
    assert said.code == 2
    assert said.err == (
        "--meal is a time of day, but the clock of this computer is not set; set it, or wait for "
        "the network, or begin the cook without --meal\n"
    )
    assert not list(inbox.glob("*.json"))
    assert noonpot("cook", "start", "box", "--food", "bread").code == 0
