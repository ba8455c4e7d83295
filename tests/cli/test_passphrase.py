"""``noonpot check --set-passphrase``, typed blindly at a terminal."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from cli.terminal import garden
from noonpot.app.pagehouse import keyring
from noonpot.settings.reading import load

COMMAND = (sys.executable, "-m", "noonpot", "check", "--set-passphrase", "--config")


def typed(file: Path, *lines: str) -> tuple[int, str]:
    """The exit code and all that the terminal showed, for what was typed."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [*COMMAND, str(file)], stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
    )
    os.close(theirs)
    shown, waiting = b"", list(lines)
    try:
        while part := os.read(ours, 4096):
            shown += part
            if waiting and shown.endswith(b": "):  # the blank comes when the echo is off
                shown += b"\n"
                os.write(ours, f"{waiting.pop(0)}\n".encode())
    except OSError:  # the other side has closed the terminal
        pass
    os.close(ours)
    return process.wait(30), shown.decode()


def test_a_passphrase_that_is_typed_twice_opens_the_page(tmp_path: Path) -> None:
    file = garden(tmp_path)
    code, shown = typed(file, "four words of mine", "four words of mine")
    assert code == 0, shown
    assert "It is set" in shown
    assert "all links for looking are withdrawn" in " ".join(shown.split())
    assert "four words" not in shown
    assert keyring(load(file)).opens("four words of mine")


@pytest.mark.parametrize("word", ["short", " " * 10])
def test_one_that_will_not_do_is_told_and_nothing_is_kept(tmp_path: Path, word: str) -> None:
    file = garden(tmp_path)
    code, shown = typed(file, word, word)
    assert code == 2
    assert "a passphrase has 8 to 200 letters" in shown
    assert keyring(load(file)).issue == ""
