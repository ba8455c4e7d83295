"""Letters to the daemon: whole, once, and in order, whoever dies in between."""

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.errors import StoreError
from noonpot.ports import Batch
from noonpot.store.inbox import FileInbox, hand_in, refusal
from noonpot.store.sqlite import Store
from store.shelf import ENVIRONMENT, START, opened

LOAD = Event("box", START, EventKind.LOAD, {"food": "bread", "mass_kg": "0.6"})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "inbox"


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as store:
        yield store


@pytest.fixture
def inbox(folder: Path, store: Store) -> FileInbox:
    return FileInbox(folder, store.knows_event)


def waiting(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.is_file())


def test_an_event_arrives_as_it_was_handed_in(inbox: FileInbox, folder: Path) -> None:
    name = hand_in(folder, LOAD)
    (letter,) = inbox.take()
    assert letter.name == name
    assert letter.event == replace(LOAD, detail={**LOAD.detail, "uid": name})


def test_letters_come_in_the_order_of_their_time(inbox: FileInbox, folder: Path) -> None:
    for minutes in (3, 1, 2):
        hand_in(folder, replace(LOAD, at=START + timedelta(minutes=minutes)))
    assert [letter.event.at.minute for letter in inbox.take()] == [1, 2, 3]


def test_a_letter_is_taken_once_and_stays_until_it_is_done_with(
    inbox: FileInbox, folder: Path
) -> None:
    name = hand_in(folder, LOAD)
    (letter,) = inbox.take()
    assert inbox.take() == []
    assert waiting(folder) == [f"{name}.json"]
    inbox.done(letter)
    assert waiting(folder) == []


def test_after_a_crash_before_the_commit_the_letter_comes_again(
    inbox: FileInbox, folder: Path, store: Store
) -> None:
    hand_in(folder, LOAD)
    first = inbox.take()
    assert FileInbox(folder, store.knows_event).take() == first != []


def test_after_a_crash_between_commit_and_done_the_letter_does_not_come_again(
    inbox: FileInbox, folder: Path, store: Store, clock: FakeClock
) -> None:
    hand_in(folder, LOAD)
    (letter,) = inbox.take()
    store.write(clock.moment(), Batch(events=[letter.event]))
    assert FileInbox(folder, store.knows_event).take() == []
    assert waiting(folder) == []
    assert store.events_of("box", START, START) == [LOAD]


@pytest.mark.parametrize("fatal", ["fsync", "rename"])
def test_a_writer_killed_before_it_is_through_hands_in_nothing(
    inbox: FileInbox, folder: Path, fatal: str
) -> None:
    """The writer is a process of its own; it is killed in the system call named."""
    script = (
        "import os, signal, sys; from pathlib import Path\n"
        "from noonpot.core.cook import Event, EventKind\n"
        "from noonpot.core.moment import utc\n"
        "from noonpot.store.inbox import hand_in\n"
        "sys.addaudithook(lambda name, _: name == 'os.rename'"
        f" and '{fatal}' == 'rename' and os.kill(os.getpid(), signal.SIGKILL))\n"
        f"if '{fatal}' == 'fsync': os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)\n"
        "hand_in(Path(sys.argv[1]), Event('box', utc('2026-06-03T07:00:00Z'), EventKind.LID))\n"
    )
    command = [sys.executable, "-c", script, str(folder)]
    ended = subprocess.run(command, env=ENVIRONMENT, check=False)
    assert ended.returncode == -9
    assert inbox.take() == []
    name = hand_in(folder, LOAD)
    assert [letter.name for letter in inbox.take()] == [name]


def test_a_refused_letter_is_kept_with_the_reason(inbox: FileInbox, folder: Path) -> None:
    name = hand_in(folder, LOAD)
    (letter,) = inbox.take()
    assert refusal(folder, name) is None
    inbox.refuse(letter, "unload of box: nothing is in the pot")
    assert waiting(folder) == []
    assert refusal(folder, name) == "unload of box: nothing is in the pot"
    assert (folder / "refused" / f"{name}.json").exists()
    assert inbox.take() == []


GOOD = '"cooker": "box", "at": "2026-06-03T07:00:00Z", "kind": "lid", "detail": {}'


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "Expecting value"),
        ("[" * 16_000, "nested too deeply"),
        ('{"cooker": "box"', "delimiter"),
        ("[1, 2]", "must have cooker, at, kind and detail"),
        ('{"cooker": "box"}', "must have cooker, at, kind and detail"),
        ("{" + GOOD + ', "more": ""}', "and nothing else"),
        ("{" + GOOD.replace('"box"', "7") + "}", "must be text"),
        ("{" + GOOD.replace("{}", "[]") + "}", "must be text"),
        ("{" + GOOD.replace("{}", '{"mass_kg": 0.6}') + "}", "must be text"),
        ("{" + GOOD.replace("{}", '{"a b": "c"}') + "}", "must be one word"),
        ("{" + GOOD.replace("Z", "") + "}", "names no zone"),
        ("{" + GOOD.replace("2026-06-03", "noon ") + "}", "Invalid isoformat"),
        ("{" + GOOD.replace("lid", "lod") + "}", "there is no event 'lod'; did you mean load?"),
        ("{" + GOOD + "}" + " " * 20_000, "longer than 16384 bytes"),
        ("\udcff", "can't decode"),
        ("{" + GOOD.replace("{}", r'{"text": "\ud800"}') + "}", "no text that can be kept"),
        ("{" + GOOD.replace('"box"', r'"\ud800"') + "}", "no text that can be kept"),
        ("{" + GOOD + ', "kind": "lid"}', "a key stands there twice"),
        (
            "{" + GOOD.replace("2026-06-03T07", "0001-01-01T00").replace("Z", "+23:00") + "}",
            "calen",
        ),
        ("{" + GOOD.replace("2026", "9999") + "}", "before the year 2200"),
    ],
)
def test_a_letter_that_cannot_be_read_is_put_aside_with_the_reason(
    inbox: FileInbox, folder: Path, text: str, reason: str
) -> None:
    (folder / "letter.json").write_text(text, errors="surrogateescape")
    assert inbox.take() == []
    assert waiting(folder) == []
    assert reason in (refusal(folder, "letter") or "")


def test_a_letter_of_an_odd_name_is_put_aside(inbox: FileInbox, folder: Path) -> None:
    odd = os.fsencode(folder) + b"/\xff\n.json"
    Path(os.fsdecode(odd)).write_text("{" + GOOD + "}")
    assert inbox.take() == []
    assert waiting(folder) == []


def test_half_a_letter_of_an_alphabet_is_refused_where_it_is_said(folder: Path) -> None:
    folder.mkdir()
    with pytest.raises(StoreError, match="no text that can be kept"):
        hand_in(folder, replace(LOAD, detail={"text": "\udcff"}))
    assert waiting(folder) == []


def test_a_letter_is_refused_for_a_reason_that_no_file_can_hold(
    inbox: FileInbox, folder: Path
) -> None:
    name = hand_in(folder, LOAD)
    (letter,) = inbox.take()
    inbox.refuse(letter, "azimuth=\ud800 is not a number")
    assert refusal(folder, name) == r"azimuth=\ud800 is not a number"


def test_a_folder_that_takes_nothing_more_stops_no_round(inbox: FileInbox, folder: Path) -> None:
    hand_in(folder, LOAD)
    (letter,) = inbox.take()
    (folder / "refused").rmdir()
    (folder / "refused").write_text("a file where the folder was")
    inbox.refuse(letter, "not here")
    assert inbox.take() == []  # it is not taken again and again


def test_what_is_no_file_is_put_aside_and_does_not_hang_the_daemon(
    inbox: FileInbox, folder: Path
) -> None:
    os.mkfifo(folder / "pipe.json")
    (folder / "folder.json").mkdir()
    secret = folder.with_name("secret")
    secret.write_text("{" + GOOD + "}")
    (folder / "link.json").symlink_to(secret)
    assert inbox.take() == []
    for name in ("pipe", "folder", "link"):
        assert "this is no file" in (refusal(folder, name) or "")


def test_a_missing_inbox_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is the daemon set up, and are you in its group"):
        hand_in(tmp_path / "nowhere", LOAD)


def test_members_of_the_group_may_hand_in(inbox: FileInbox, folder: Path) -> None:
    name = hand_in(folder, LOAD)
    assert inbox.take()
    assert oct(folder.stat().st_mode) == "0o42770"
    assert oct((folder / f"{name}.json").stat().st_mode) == "0o100640"
