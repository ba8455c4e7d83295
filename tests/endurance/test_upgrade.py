"""Row 24: a data file of every step that was ever released comes up to date with all it holds, also
when that is killed; an older program leaves a newer file alone and watches on.

``schemas`` has a file of each step as text, written by the programs of that time.
"""

import random
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from broker import until
from endurance import upgrader
from endurance.extent import FULL, Tell, chance
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE, open_or_mend
from noonpot.app.running import made
from noonpot.clock import SystemClock
from noonpot.core.cook import Aim, EventKind
from noonpot.core.moment import utc
from noonpot.core.readings import Reading
from noonpot.settings.reading import load
from noonpot.store.mending import sound
from noonpot.store.migrations import MIGRATIONS, applied, check_shape
from noonpot.store.reader import Reader
from store.shelf import ENVIRONMENT, PROBES, START, opened, write_reading
from web.homes import CONFIG

SCHEMAS = sorted((Path(__file__).parent / "schemas").glob("*.sql"))
POINTS = 50 if FULL else 2
KILLED = [SCHEMAS[0], SCHEMAS[6]] if FULL else SCHEMAS[6:7]  # all steps; those since 0.1.0
LATER = utc("2026-06-04T07:00:00Z")
BRISK = """
[poll]
interval_s = 0.5
commit_s = 1
[page]
enabled = false
[alarm.storage]
on_delay_s = 0
"""
Content = dict[str, tuple[Sequence[str], Sequence[tuple[object, ...]]]]
"""Columns and rows of each table."""


def laid_out(schema: Path, path: Path) -> Content:
    """The data file of a schema; returns what it holds."""
    for end in ("", "-wal", "-shm", ".lock"):
        Path(f"{path}{end}").unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as db:
        db.executescript(schema.read_text(encoding="utf-8"))
        tables = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        return {table: _held(db, table, "*") for (table,) in tables}


def _held(
    db: sqlite3.Connection, table: str, columns: str
) -> tuple[Sequence[str], Sequence[tuple[object, ...]]]:
    found = db.execute(f"SELECT {columns} FROM {table}")  # noqa: S608  names of our own
    return [column[0] for column in found.description], found.fetchall()


def assert_holds(path: Path, content: Content) -> None:
    """All that was there is there as it was; only the list of steps grew."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        for table, (columns, rows) in content.items():
            _, now = _held(db, table, ", ".join(columns))
            assert (now[: len(rows)] if table == "migration" else now) == rows, table


@pytest.mark.parametrize("schema", SCHEMAS, ids=lambda schema: schema.stem)
def test_a_file_of_every_step_comes_up_to_date_with_all_it_holds(
    tmp_path: Path, schema: Path
) -> None:
    path, clock = tmp_path / "noonpot.db", FakeClock(LATER, 5.0)
    clock.boot_id = "boot-3"
    content = laid_out(schema, path)
    readings = len(content["reading"][1])
    with sound(path, clock) as store:
        with closing(sqlite3.connect(path)) as db:
            assert applied(db) == [step.__name__ for step in MIGRATIONS]
            check_shape(db, path)
        (_, spans), spans_of = content.pop("clock_span"), "SELECT * FROM clock_span"
        with closing(sqlite3.connect(path)) as db:
            assert db.execute(spans_of).fetchall()[:-1] == spans  # one more, that of now
        assert_holds(path, content)
        found = [
            sample
            for probe in PROBES
            for sample in store.raw_of(probe.name, START - timedelta(days=1), LATER)
            if isinstance(sample, Reading)
        ]
        assert len(found) == readings == 108
        if "cook" in content:
            first, second = store.cooks()
            assert (first.food, first.target_c, first.running) == ("bread", 92.0, False)
            assert first.aim == Aim(94.5, 37.0)
            assert [cook.id for cook in store.running_cooks()] == [second.id]
            kinds = [e.kind for e in store.events_of("box", START - timedelta(days=1), LATER)]
            assert set(kinds) == {
                EventKind.START, EventKind.AIM, EventKind.LOAD, EventKind.STOP,
            }  # fmt: skip
            assert store.knows_event("0003")
        if "alarm" in content:
            (record,) = store.alarm_records()
            assert (record.alarm, record.occurrence) == ("done", 3)
            assert [a.id for a in store.unsent("mqtt", 9)] == ["a-2", "a-3"]
        if "sun_day" in content:
            assert store.sun_day("day-1") == bytes(range(40))
        store.register(PROBES)
        write_reading(store, clock.advance(2), 77.0)


def test_there_is_a_file_of_every_step_but_the_last() -> None:
    """Whoever adds a step writes down what the one before it made; see the first line of each."""
    told = [schema.stem.partition("-")[2].replace("-", "_") for schema in SCHEMAS]
    assert told == [step.__name__ for step in MIGRATIONS[: len(told)]]
    assert len(told) >= len(MIGRATIONS) - 1


def upgraded(path: Path, step: int = 0, after_us: int = 0) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, upgrader.__file__, str(path), str(step), str(after_us)]
    return subprocess.run(command, capture_output=True, text=True, check=False, env=ENVIRONMENT)


@pytest.mark.parametrize("schema", KILLED, ids=lambda schema: schema.stem)
def test_an_upgrade_that_is_killed_anywhere_is_at_a_whole_step_and_goes_on(
    tmp_path: Path, schema: Path, figure: Tell
) -> None:
    path, dice = tmp_path / "noonpot.db", chance()
    content = laid_out(schema, path)
    peaceful = upgraded(path)
    steps, names = int(peaceful.stdout), [step.__name__ for step in MIGRATIONS]
    killed = between = 0
    for number in range(POINTS):
        content = laid_out(schema, path)
        step, after_us = _point(number, steps, dice)
        killed += upgraded(path, step, after_us).returncode in (-signal.SIGKILL, -signal.SIGALRM)
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            done = applied(db)
            assert done == names[: len(done)]
            between += len(content["migration"][1]) < len(done) < len(names)
            check_shape(db, path)
        assert_holds(path, content)
        assert upgraded(path).returncode == 0
        assert_holds(path, content)
        with closing(sqlite3.connect(path)) as db:
            assert applied(db) == names
            check_shape(db, path)
    assert killed
    told = f"{killed} kills, {between} between two steps, all whole"
    figure(24, f"upgrade of {schema.stem} killed", told, f"{POINTS} points")


def _point(number: int, steps: int, dice: random.Random) -> tuple[int, int]:
    """By turns at a step of SQLite, all through the work, and after a time, so that a kill hits the
    writing and syncing as well.
    """
    if number % 3 == 2:
        return 0, dice.randrange(1, 20_000)
    return 1 + number * steps // POINTS, 0


def made_newer(path: Path, clock: FakeClock | SystemClock) -> bytes:
    """A file that a newer program has written; returns it."""
    with opened(path, FakeClock(clock.moment().at - timedelta(days=1))) as store:
        write_reading(store, clock.moment(), 61.0)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("INSERT INTO migration (name, at) VALUES ('things_to_come', '2031-01-01')")
    return path.read_bytes()


def test_an_older_program_watches_on_beside_a_newer_file_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config, data, clock, said = tmp_path / "noonpot.toml", tmp_path / "data", SystemClock(), [""]
    config.write_text(CONFIG + BRISK, encoding="utf-8")
    data.mkdir()
    newer, other = made_newer(data / DATA_FILE, clock), data / "noonpot-meanwhile.db"
    since = clock.moment().at - timedelta(seconds=60)

    def told() -> bool:
        said[0] += capsys.readouterr().out
        if not other.exists() or "is of a newer Noonpot" not in said[0]:
            return False
        return bool(Reader(other, clock).samples_of("box-pot", since, clock.moment().at))

    with made(config) as daemon:
        thread = threading.Thread(target=daemon.run)
        thread.start()
        try:
            until(told, "it samples, and the alarm is told")
        finally:
            daemon.stop.set()
            daemon.kick()
            thread.join()
    assert "readings go to noonpot-meanwhile.db" in said[0]
    assert (data / DATA_FILE).read_bytes() == newer
    # The next start goes on there, also when that file was damaged meanwhile.
    store, mended = open_or_mend(load(config), clock)
    with store:
        assert mended is not None
        assert (mended.newer, mended.kept) == (True, other.name)
        assert store.samples_of("box-pot", since, clock.moment().at)
    other.write_bytes(b"nothing at all" * 1000)
    store, _ = open_or_mend(load(config), clock)
    with store:
        assert store.cooks() == []
    assert (data / DATA_FILE).read_bytes() == newer
