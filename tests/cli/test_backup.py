"""``noonpot backup`` and ``noonpot restore``, as a person calls them."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from cli.terminal import Noonpot
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE
from noonpot.store.reader import Reader
from store.shelf import START, opened, write_reading
from web.homes import CONFIG


def station(folder: Path, *values: float) -> FakeClock:
    """A station with some readings; returns its clock."""
    (folder / "noonpot.toml").write_text(CONFIG, encoding="utf-8")
    (folder / "data").mkdir(exist_ok=True)
    clock = FakeClock()
    with opened(folder / "data" / DATA_FILE, clock) as store:
        for value in values:
            write_reading(store, clock.advance(2), value)
    return clock


def readings(file: Path, clock: FakeClock) -> int:
    return len(Reader(file, clock).samples_of("box-pot", START, START + timedelta(days=1)))


def test_a_backup_is_made_listed_and_brought_back(tmp_path: Path, noonpot: Noonpot) -> None:
    clock, file = station(tmp_path, 50.0, 51.0), tmp_path / "data" / DATA_FILE
    assert "There is no backup" in noonpot("backup", "--list").out
    with opened(file, clock) as store:
        said = noonpot("backup")  # while it runs
        write_reading(store, clock.advance(2), 52.0)
    assert (said.code, said.err) == (0, "")
    assert "checked and good" in said.out
    listed = noonpot("backup", "--list").out
    made = Path(listed.split("  ")[0])
    said = noonpot("restore", str(made))
    assert (said.err, said.code) == ("", 0)
    (kept,) = (tmp_path / "data").glob("noonpot-before-*.db")
    assert str(kept) in said.out
    assert (readings(file, clock), readings(kept, clock)) == (2, 3)
    assert made.exists()


def test_a_backup_as_a_file_of_ones_own_replaces_nothing(tmp_path: Path, noonpot: Noonpot) -> None:
    clock = station(tmp_path, 50.0)
    assert noonpot("backup", "mine.db").code == 0
    assert readings(tmp_path / "mine.db", clock) == 1
    said = noonpot("backup", "mine.db")
    assert said.code == 2
    assert "choose another name" in said.err


def test_a_backup_is_brought_to_a_new_card(tmp_path: Path, noonpot: Noonpot) -> None:
    clock, file = station(tmp_path, 50.0), tmp_path / "data" / DATA_FILE
    assert noonpot("backup", "mine.db").code == 0
    for left in file.parent.iterdir():
        left.unlink()
    assert noonpot("restore", "mine.db").code == 0
    assert readings(file, clock) == 1
    assert not list(file.parent.glob("noonpot-before-*"))


def test_while_the_daemon_runs_nothing_is_restored(tmp_path: Path, noonpot: Noonpot) -> None:
    clock, file = station(tmp_path, 50.0), tmp_path / "data" / DATA_FILE
    assert noonpot("backup", "mine.db").code == 0
    with opened(file, clock):
        said = noonpot("restore", "mine.db")
    assert said.code == 1
    assert "in use by another noonpot" in said.err
    assert not list(file.parent.glob("noonpot-before-*"))


def test_what_is_no_good_backup_is_refused_and_nothing_changes(
    tmp_path: Path, noonpot: Noonpot
) -> None:
    clock, file = station(tmp_path, 50.0), tmp_path / "data" / DATA_FILE
    assert noonpot("backup", "newer.db").code == 0
    with closing(sqlite3.connect(tmp_path / "newer.db")) as db, db:
        db.execute("INSERT INTO migration (name, at) VALUES ('things_to_come', '2031-01-01')")
    (tmp_path / "torn.db").write_bytes(b"SQLite format 3\0" + bytes(5000))
    for name, words in (
        ("newer.db", "written by a newer Noonpot"),
        ("torn.db", "damaged"),
        ("none.db", "unable to open database file"),
    ):
        said = noonpot("restore", name)
        assert (said.code, said.out) == (1, "")
        assert words in said.err
    assert readings(file, clock) == 1
    assert not list(file.parent.glob("noonpot-before-*"))
