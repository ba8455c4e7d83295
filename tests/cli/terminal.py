"""The command line as a person calls it, within this process."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from noonpot.cli import main
from noonpot.settings.files import supplied


@dataclass(frozen=True)
class Said:
    """What a command printed, and its exit code."""

    code: int
    out: str
    err: str


Noonpot = Callable[..., Said]


def caller(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Noonpot:
    """Calls ``noonpot`` in a folder of its own."""
    monkeypatch.chdir(folder)

    def noonpot(*words: str) -> Said:
        monkeypatch.setattr("sys.argv", ["noonpot", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        printed = capsys.readouterr()
        return Said(int(ended.value.code or 0), printed.out, printed.err)

    return noonpot


def garden(folder: Path) -> Path:
    """The demo's garden as a configuration in a folder."""
    file = folder / "noonpot.toml"
    file.write_text(supplied("demo.toml").read_text())
    return file
