"""``noonpot report``: a page, a table, a picture, or a sentence that says why not."""

import sys
from pathlib import Path

import pytest

from cli.terminal import Noonpot
from reports import Kept

PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return Kept(tmp_path)


def test_the_page_the_table_and_the_picture(noonpot: Noonpot, kept: Kept, tmp_path: Path) -> None:
    kept.cook()
    said = noonpot("report", "1", "--out", "1.html", "--csv", "1.csv", "--png", "1.png")
    assert (said.code, said.out, said.err) == (0, "", "")
    assert "<h1>Pie in box</h1>" in (tmp_path / "1.html").read_text(encoding="utf-8")
    table = (tmp_path / "1.csv").read_text(encoding="utf-8").splitlines()
    assert len(table) == 1 + 102
    assert table[1].startswith("2026-06-03 09:00,29.0,20.0,18.0,601,")
    assert (tmp_path / "1.png").read_bytes().startswith(PNG)


def test_without_a_file_the_page_is_printed(noonpot: Noonpot, kept: Kept) -> None:
    kept.cook()
    said = noonpot("report", "1")
    assert said.out.startswith("<!doctype html>")
    assert said.out.endswith("</html>\n")


def test_a_cook_that_is_not_there(noonpot: Noonpot, kept: Kept) -> None:
    kept.cook()
    said = noonpot("report", "9")
    assert (said.code, said.out) == (2, "")
    assert "there is no cook 9" in said.err


def test_a_folder_that_is_not_there(noonpot: Noonpot, kept: Kept) -> None:
    kept.cook()
    said = noonpot("report", "1", "--out", "nowhere/1.html")
    assert said.code == 2
    assert "--out nowhere/1.html: No such file or directory" in said.err


def test_a_picture_without_its_library(
    noonpot: Noonpot, kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.cook()
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    said = noonpot("report", "1", "--png", "1.png")
    assert said.code == 1
    assert "resvg-py, which draws a PNG, is not installed" in said.err
