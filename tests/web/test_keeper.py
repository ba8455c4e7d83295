"""The page's process is fed, started anew when it ends, and never holds anybody up."""

import json
import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from broker import until
from fakes import FakeClock
from noonpot.app.pagekeeper import PageKeeper, serving
from noonpot.clock import SystemClock
from noonpot.ports import Outcome
from noonpot.settings.reading import load
from stations import ALERT
from web.homes import CONFIG, START, Home

CLOCK = SystemClock()
# Writes down all that it is told; "die" ends it as a crash would.
LISTENER = """
import os, sys
with open(sys.argv[1], "a", buffering=1) as file:
    file.write(f'{{"life": {os.getpid()}}}\\n')
    for line in sys.stdin:
        if '"die"' in line:
            sys.exit(3)
        file.write(line)
    file.write('{"end": true}\\n')
"""
FIRST_DEAF = f"""
import os, signal, sys
if not os.path.exists(sys.argv[2]):
    open(sys.argv[2], "w").close()
    signal.pause()
{LISTENER}"""
DEAF = "import signal; signal.pause()"


class Quick:
    """A clock on which a second lasts a hundredth, so that waits between lives are short."""

    boot_id = "quick"

    def moment(self) -> Any:
        return CLOCK.moment()

    def wait(self, signal_: Any, timeout_s: float) -> bool:
        return CLOCK.wait(signal_, timeout_s / 100)


class Held(Quick):
    """The same, but what it shows is moved by the test."""

    def __init__(self, shown: FakeClock) -> None:
        self._shown = shown

    def moment(self) -> Any:
        return self._shown.moment()


@contextmanager
def kept(folder: Path, program: str = LISTENER) -> Iterator[tuple[PageKeeper, Path]]:
    heard = folder / "heard"
    command = [sys.executable, "-c", program, str(heard)]
    keeper = PageKeeper("garden", lambda: {"hello": 1}, Quick(), command)
    keeper.start()
    try:
        yield keeper, heard
    finally:
        keeper.close()


def lines(heard: Path) -> list[dict[str, Any]]:
    text = heard.read_text() if heard.exists() else ""
    return [json.loads(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]


def lives(heard: Path) -> list[dict[str, Any]]:
    """What each life was told last, by topic."""
    found: list[dict[str, Any]] = []
    for line in lines(heard):
        if "life" in line:
            found.append({})
        elif "topic" in line:
            found[-1][line["topic"]] = line["payload"]
    return found


def lived_on(heard: Path, before: int) -> bool:
    """Whether there were more lives than before."""
    return len(lives(heard)) > before


def test_it_hears_a_hello_then_states_and_alerts_and_the_end(tmp_path: Path) -> None:
    with kept(tmp_path) as (keeper, heard):
        until(lambda: len(lines(heard)) == 2, "the hello is heard")
        keeper.show("box/now", {"pot_c": 80.0})
        assert keeper.tell(ALERT).outcome is Outcome.SENT
        keeper.beat()
        until(lambda: len(lines(heard)) == 5, "all is heard")
        told = lines(heard)
    assert told[1] == {"hello": 1, "told": False}
    by_topic = {line["topic"]: line["payload"] for line in told[2:]}
    assert by_topic["box/now"] == {"pot_c": 80.0}
    assert by_topic["beat"] == {}
    assert by_topic["alert"]["id"] == ALERT.id
    assert lines(heard)[-1] == {"end": True}


def test_one_that_dies_is_started_again_and_shown_everything(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    well: dict[str, dict[str, object]] = {
        "box/now": {"pot_c": 80.0},
        "box/alarm/done": {"state": "normal"},
    }
    with kept(tmp_path) as (keeper, heard):
        for topic, payload in well.items():
            keeper.show(topic, payload)
        until(lambda: lives(heard) == [well], "all is heard")
        for _ in range(2):
            before = len(lives(heard))
            keeper.show("box/now", {"word": "die"})
            until(partial(lived_on, heard, before), "it is started again")
            keeper.show("box/now", well["box/now"])
            until(lambda: lives(heard)[-1] == well, "all is heard anew")
    said = [r.getMessage() for r in caplog.records if "ended with code 3" in r.getMessage()]
    assert len(said) == 1  # why it ends is said once, not at every end


def test_one_that_hangs_is_ended_and_started_again(tmp_path: Path) -> None:
    clock = FakeClock(START)
    heard, gate = tmp_path / "heard", tmp_path / "gate"
    command = [sys.executable, "-c", FIRST_DEAF, str(heard), str(gate)]
    keeper = PageKeeper("garden", lambda: {"hello": 1}, Held(clock), command)
    keeper.start()
    try:
        until(gate.exists, "the first life has begun")
        state = {"word": "x" * 200_000}  # more than a pipe holds
        keeper.show("box/now", state)
        until(lambda: "box/now" not in keeper._fresh, "the writer is at it")  # noqa: SLF001
        keeper.beat()
        assert lives(heard) == []
        clock.advance(61)
        keeper.beat()
        until(lambda: {} not in lives(heard) and bool(lives(heard)), "another one is told")
        assert lives(heard)[0]["box/now"] == state
    finally:
        keeper.close()


def test_a_full_pipe_never_holds_up_the_rounds(tmp_path: Path) -> None:
    with kept(tmp_path, DEAF) as (keeper, _):
        big = {"text": "x" * 10_000}
        begun_s = CLOCK.moment().mono_s
        for number in range(2000):
            keeper.show(f"box/alarm/{number % 50}", big)
            keeper.tell(ALERT)
            keeper.beat()
        took_s = CLOCK.moment().mono_s - begun_s
        closing_s = CLOCK.moment().mono_s
    print(f"6000 words to a deaf page took {1e6 * took_s / 6000:.1f} us each")
    assert took_s / 6000 < 1e-3
    assert CLOCK.moment().mono_s - closing_s < 10


def test_of_a_topic_the_newest_state_is_told_and_alerts_are_bounded(tmp_path: Path) -> None:
    heard = tmp_path / "heard"
    command = [sys.executable, "-c", LISTENER, str(heard)]
    keeper = PageKeeper("garden", dict, Quick(), command)
    for number in range(1000):
        keeper.show("box/now", {"number": number})
        keeper.tell(ALERT)
    keeper.start()
    until(lambda: len(lines(heard)) >= 203, "all is heard")
    keeper.close()
    told = [line for line in lines(heard) if "topic" in line]
    assert [line["payload"] for line in told if line["topic"] == "box/now"] == [{"number": 999}]
    assert len(told) == 201


def test_a_program_that_cannot_be_started_is_tried_again_and_harms_nobody(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    keeper = PageKeeper("garden", dict, Quick(), [str(tmp_path / "nothing")])
    keeper.start()
    keeper.show("box/now", {})
    until(lambda: "No such file" in keeper.problem, "it is noticed")
    keeper.close()
    assert "the page cannot be started" in caplog.text


def test_it_may_be_closed_without_ever_having_begun() -> None:
    PageKeeper("garden", dict, Quick(), ["nothing"]).close()


@pytest.mark.parametrize("code", [True, False])
def test_the_code_for_the_first_passphrase_is_said_once_and_only_when_needed(
    home: Home, caplog: pytest.LogCaptureFixture, code: bool
) -> None:
    caplog.set_level(logging.INFO)
    text = f'{CONFIG}\n[page]\nbind = "0.0.0.0"\n'
    home.config.write_text(text)
    if not code:
        (home.settings.data / "page").mkdir()
        (home.settings.data / "page" / "keys.json").write_text("{}")
    hello = serving(home.config, load(home.config))
    assert hello() == hello()
    assert bool(hello()["code"]) is code
    assert caplog.text.count(str(hello()["code"])) == int(code)
    assert "the page is at http://" in caplog.text


def test_on_this_computer_alone_no_code_is_needed(
    home: Home, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    assert serving(home.config, home.settings)()["code"] is None
    assert "the page is at http://localhost:8080" in caplog.text
