"""A terminal for every test of a command."""

from pathlib import Path

import pytest

from cli.terminal import Noonpot, caller


@pytest.fixture
def noonpot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Noonpot:
    return caller(tmp_path, monkeypatch, capsys)
