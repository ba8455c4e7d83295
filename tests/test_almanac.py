"""Days of sun in a folder: found again, and never taken from a file that is not one of them."""

import os
import stat
import threading
from pathlib import Path

import pytest

from noonpot.almanac import ENDING, MOST_KEPT, Almanac, own_folder

KEY = "model-1/45.0/9.0/200.0/2026-06-03"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "noonpot"


def files(folder: Path) -> list[Path]:
    return sorted(folder.iterdir())


def test_what_was_kept_is_found_by_whoever_comes_later(folder: Path) -> None:
    assert Almanac(folder).sun_day(KEY) is None
    Almanac(folder).keep_sun_day(KEY, b"\x00table\n")
    assert Almanac(folder).sun_day(KEY) == b"\x00table\n"
    Almanac(folder).keep_sun_day(KEY, b"anew")
    assert Almanac(folder).sun_day(KEY) == b"anew"
    assert len(files(folder)) == 1


@pytest.mark.parametrize("other", ["model-2", "model-1/45.0/9.0/200.0/2026-06-0", KEY + "4"])
def test_another_key_is_another_day(folder: Path, other: str) -> None:
    Almanac(folder).keep_sun_day(KEY, b"table")
    assert Almanac(folder).sun_day(other) is None


@pytest.mark.parametrize("content", [b"", b"noonpot sun", b"hello\n", b"\xff" * 4000])
def test_a_file_of_somebody_else_is_no_table(folder: Path, content: bytes) -> None:
    almanac = Almanac(folder)
    almanac.keep_sun_day(KEY, b"table")
    files(folder)[0].write_bytes(content)
    assert almanac.sun_day(KEY) is None
    almanac.keep_sun_day(KEY, b"table")
    assert almanac.sun_day(KEY) == b"table"


def test_a_table_under_the_name_of_another_is_not_taken(folder: Path) -> None:
    almanac = Almanac(folder)
    almanac.keep_sun_day(KEY, b"table")
    (file,) = files(folder)
    almanac.keep_sun_day("another", b"other")
    os.replace(next(f for f in files(folder) if f != file), file)  # noqa: PTH105
    assert almanac.sun_day(KEY) is None


def test_only_its_owner_may_look_into_the_folder(folder: Path) -> None:
    Almanac(folder).keep_sun_day(KEY, b"table")
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_readers_see_whole_tables_while_others_write(folder: Path) -> None:
    bodies = {bytes([n]) * 20_000 for n in range(4)}
    done = threading.Event()

    def write(body: bytes) -> None:
        while not done.is_set():
            Almanac(folder).keep_sun_day(KEY, body)

    Almanac(folder).keep_sun_day(KEY, bytes(20_000))
    writers = [threading.Thread(target=write, args=(body,)) for body in bodies]
    for writer in writers:
        writer.start()
    seen = {Almanac(folder).sun_day(KEY) for _ in range(300)}
    done.set()
    for writer in writers:
        writer.join()
    assert seen <= bodies
    assert len(files(folder)) == 1


def test_the_oldest_days_make_room(folder: Path) -> None:
    almanac = Almanac(folder)
    almanac.keep_sun_day("0", b"table")
    os.utime(files(folder)[0], (1, 1))
    for n in range(1, MOST_KEPT):
        almanac.keep_sun_day(str(n), b"table")
    (folder / "letter.txt").write_text("of somebody else")
    almanac.keep_sun_day("last", b"table")
    assert len(list(folder.glob(f"*{ENDING}"))) == MOST_KEPT
    assert almanac.sun_day("0") is None
    assert almanac.sun_day("1") == almanac.sun_day("last") == b"table"
    assert (folder / "letter.txt").exists()


def test_where_nothing_can_be_kept_nothing_is(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    for almanac in (Almanac(tmp_path / "file" / "noonpot"), Almanac(None)):
        almanac.keep_sun_day(KEY, b"table")
        assert almanac.sun_day(KEY) is None
    assert (tmp_path / "file").read_text() == "no folder"


@pytest.mark.parametrize(
    ("environment", "folder"),
    [
        ({"XDG_CACHE_HOME": "/kept", "HOME": "/one"}, "/kept/noonpot"),
        ({"HOME": "/one"}, "/one/.cache/noonpot"),
        ({"XDG_CACHE_HOME": "cache", "HOME": "/one"}, "/one/.cache/noonpot"),
        ({"XDG_CACHE_HOME": "", "HOME": ""}, None),
        ({}, None),
    ],
)
def test_the_folder_is_where_the_person_keeps_such_things(
    environment: dict[str, str], folder: str | None
) -> None:
    # XDG base directory specification: a path that is not absolute is to be ignored
    assert own_folder(environment) == (None if folder is None else Path(folder))
