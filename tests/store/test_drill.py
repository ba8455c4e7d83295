"""The restore drill: a copy is made while the store is written, restored, and is equal row by row;
an old copy is made new by writing only what differs.
"""

import os
import random
import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.readings import Reading
from noonpot.errors import StoreError
from noonpot.ports import Batch
from noonpot.store.backup import copies, copy, make_room, place, spare_of
from noonpot.store.connection import open_to_write
from noonpot.store.drill import compare, sums
from noonpot.store.mending import prepared, replace
from noonpot.store.migrations import MIGRATIONS, migrate
from noonpot.store.retention import Rule
from noonpot.store.samples import SERIES
from noonpot.store.sqlite import Store
from store.attic import DAY_S, roll_up_all, told
from store.shelf import PROBES, START, alert, opened, write_reading
from store.test_backup import Diary, free_bytes, hollow

NEVER, CLOCK = threading.Event(), SystemClock()
NIGHT = datetime(2026, 6, 3, 3, tzinfo=UTC)
FULL = os.environ.get("NOONPOT_ENDURANCE") == "full"
ROWS = 1_000_000 if FULL else 100_000
PAGE = 4096


def fill(path: Path, count: int, step: int = 2) -> None:
    """Put so many readings of six probes behind those that are there, a round in ``step`` ticks."""
    with closing(open_to_write(path)) as db:
        (first,) = db.execute(
            "SELECT max((SELECT max(first_tick) FROM clock_span),"
            " coalesce((SELECT max(id) >> 10 FROM reading), 0)) + 1"
        ).fetchone()
        db.execute("PRAGMA synchronous = OFF")
        db.execute("BEGIN")
        db.executemany(
            "INSERT INTO reading (id, value) VALUES (?, ?)",
            (
                ((first + step * (n // 6)) * SERIES + n % 6 + 1, 960 + 7 * n % 300)
                for n in range(count)
            ),
        )
        db.execute("COMMIT")


def every_row(path: Path) -> list[object]:
    """All there is."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        tables = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        return [db.execute(f"SELECT * FROM {table}").fetchall() for (table,) in tables]  # noqa: S608


def write(store: Store, clock: FakeClock, days: float, step_s: float = 600) -> None:
    """Readings, a cook with events, alerts, for so many days."""
    store._db.execute("PRAGMA synchronous = OFF")  # noqa: SLF001  nothing is killed here
    for number in range(round(days * DAY_S / step_s)):
        now = clock.advance(step_s)
        samples = [Reading(p.name, now.at, now.mono_s, number % 80 + 0.5) for p in PROBES]
        events, cooks, alerts = [], [], []
        if number % 100 == 5:
            events = [Event("box", now.at, EventKind.NOTE, {"text": f"note {number}"})]
            cooks = [Cook("box", now.at, "bread", stopped_at=now.at + timedelta(hours=3))]
            alerts = [alert(f"{now.mono_s}", now)]
        store.write(now, Batch(samples, events, cooks, alerts=alerts))


def test_a_store_is_copied_while_written_and_restored_and_every_row_is_there(
    tmp_path: Path,
) -> None:
    path, made, clock = tmp_path / "noonpot.db", tmp_path / "backup.db", FakeClock(mono_s=0.0)
    opened(path, clock).close()
    fill(path, ROWS)
    clock = FakeClock(mono_s=2e8)  # long after what the file holds
    with opened(path, clock) as store, Diary(store, clock) as diary:
        while diary.written < 5:
            NEVER.wait(0.01)
        before, begun_s = diary.written, CLOCK.moment().mono_s
        copy(path, made, CLOCK, NEVER)
        took_s, after = CLOCK.moment().mono_s - begun_s, diary.written
    assert after > before, "nothing was written meanwhile: the test shows nothing"
    begun_s = CLOCK.moment().mono_s
    copy(made, prepared(path), CLOCK, NEVER)
    kept = replace(path, NIGHT, "before")
    took_s += CLOCK.moment().mono_s - begun_s
    assert told(path) == told(made)
    here, there = told(kept), told(path)
    assert set(there) <= set(here)
    counted = sum(int(str(found[0])) for (table, _), found in there.items() if table == "reading")
    print(f"{counted} readings copied and restored in {took_s:.1f} s, {after - before} writes then")
    assert counted > ROWS
    assert took_s <= 60
    with opened(path, clock) as store:
        write_reading(store, clock.advance(2), 77.0)


def test_a_copy_that_differs_in_one_row_of_any_table_is_found(tmp_path: Path) -> None:
    path, clock = tmp_path / "noonpot.db", FakeClock(START)
    with opened(path, clock) as store:
        write(store, clock, 40, 3600)
        assert roll_up_all(store, Rule(30 * DAY_S, 600, 600)) > 0
    wanted = told(path)
    for number, change in enumerate(
        (
            "UPDATE reading SET value = value + 1 WHERE id = (SELECT max(id) FROM reading)",
            "DELETE FROM reading WHERE id = (SELECT min(id) FROM reading)",
            "UPDATE reading SET id = id + 700 WHERE id = (SELECT max(id) FROM reading)",
            "UPDATE rollup SET high = high + 1 WHERE id = (SELECT max(id) FROM rollup)",
            "DELETE FROM rollup WHERE id = (SELECT min(id) FROM rollup)",
            "UPDATE event SET detail = detail || ' ' WHERE id = 1",
            "DELETE FROM cook WHERE id = 1",
            "UPDATE alert SET text = 'nothing' WHERE seq = 1",
            "UPDATE clock_span SET wall_s = wall_s + 1",
        )
    ):
        changed = tmp_path / f"{number}.db"
        copy(path, changed, clock, NEVER)
        assert told(changed) == wanted
        with closing(sqlite3.connect(changed)) as db, db:
            assert db.execute(change).rowcount == 1
        with pytest.raises(StoreError, match=r"is not equal to what was copied \(table "):
            compare(wanted, told(changed))


def test_two_values_that_were_exchanged_are_found(tmp_path: Path) -> None:
    path = tmp_path / "noonpot.db"
    opened(path, FakeClock(mono_s=0.0)).close()
    fill(path, 6000)
    wanted, dice = told(path), random.Random(3)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for _ in range(30):
            one, other = dice.sample(db.execute("SELECT id, value FROM reading").fetchall(), 2)
            if one[1] == other[1]:
                continue
            db.execute("BEGIN")
            db.execute("UPDATE reading SET value = ? WHERE id = ?", (other[1], one[0]))
            db.execute("UPDATE reading SET value = ? WHERE id = ?", (one[1], other[0]))
            assert sums(db) != wanted
            db.execute("ROLLBACK")


def written_bytes() -> int:
    """What this process has had written to disk so far, as the kernel counts it."""
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["write_bytes"])


def test_an_old_copy_is_made_new_by_writing_what_differs(tmp_path: Path) -> None:
    path, clock = tmp_path / "noonpot.db", FakeClock(mono_s=0.0)
    opened(path, clock).close()
    fill(path, 200_000, step=180)  # 69 days
    spare, made = tmp_path / "old.db", tmp_path / "new.db"
    copy(path, spare, CLOCK, NEVER)
    fill(path, 14_400, step=180)  # five more days
    clock = FakeClock(START + timedelta(days=80), mono_s=80.0 * DAY_S)
    with opened(path, clock) as store:
        write(store, clock, 1, 900)
        size = path.stat().st_size
        begun = written_bytes()
        copy(path, made, CLOCK, NEVER, spare)
        cost = written_bytes() - begun
        print(f"{cost / 1e6:.2f} MB written for a copy of {size / 1e6:.2f} MB")
        assert told(made) == told(path)
        assert not spare.exists()
        # Six of 75 days, and the small tables; where the kernel does not count, it counts nothing.
        assert cost < size / 4
        assert roll_up_all(store, Rule(60 * DAY_S, 600, 600)) > 0
        copy(path, tmp_path / "newer.db", CLOCK, NEVER, made)
        assert told(tmp_path / "newer.db") == told(path)
    assert every_row(tmp_path / "newer.db") == every_row(path)


@pytest.mark.parametrize(
    "flaw",
    ["damaged", "damaged out of sight", "of an older step", "of another station", "empty"],
)
def test_a_spare_copy_that_is_no_good_costs_a_whole_copy_and_nothing_else(
    tmp_path: Path, flaw: str
) -> None:
    path, spare, made = (tmp_path / f"{name}.db" for name in ("noonpot", "spare", "made"))
    clock = FakeClock(START)
    with opened(path, clock) as store:
        write(store, clock, 3)
        copy(path, spare, clock, NEVER)
        match flaw:
            case "damaged":
                body = bytearray(spare.read_bytes())
                body[PAGE * 3 : PAGE * 6] = random.Random(1).randbytes(PAGE * 3)
                spare.write_bytes(body)
            case "damaged out of sight":  # a list of free pages that leads nowhere
                with closing(sqlite3.connect(spare, isolation_level=None)) as db:
                    db.execute("CREATE TABLE much (body BLOB)")
                    db.execute("INSERT INTO much VALUES (zeroblob(100000))")
                    db.execute("DROP TABLE much")
                body = bytearray(spare.read_bytes())
                trunk = int.from_bytes(body[32:36], "big")
                body[PAGE * (trunk - 1) : PAGE * trunk] = b"\xff" * PAGE
                spare.write_bytes(body)
            case "of an older step":
                spare.unlink()
                with closing(open_to_write(spare)) as db:
                    migrate(db, "2026-06-03T07:00:00Z", MIGRATIONS[:-1])
            case "of another station":
                spare.unlink()
                other = FakeClock(START + timedelta(days=400))
                with opened(spare, other) as elsewhere:
                    write(elsewhere, other, 2)
            case "empty":
                spare.write_bytes(b"")
        copy(path, made, clock, NEVER, spare)
        assert told(made) == told(path)
    assert not list(tmp_path.glob(".*.part"))


def test_only_what_will_be_thinned_is_a_spare_copy(tmp_path: Path) -> None:
    made = place(tmp_path, NIGHT + timedelta(days=10))
    for day in range(10):
        place(tmp_path, NIGHT + timedelta(days=day)).touch()
    assert spare_of(made, daily=20, weekly=0) is None
    assert spare_of(made, daily=7, weekly=0) == place(tmp_path, NIGHT + timedelta(days=3))
    assert spare_of(made, daily=7, weekly=9) == place(tmp_path, NIGHT + timedelta(days=2))
    assert len(copies(tmp_path)) == 10


def test_where_room_is_short_the_oldest_copy_becomes_the_new_one(tmp_path: Path) -> None:
    source, folder = tmp_path / "noonpot.db", tmp_path / "backups"
    folder.mkdir()
    size = free_bytes(tmp_path) // 4
    hollow(source, size)
    for day in range(3):
        hollow(place(folder, NIGHT + timedelta(days=day)), size)
    spare = make_room(source, folder, reserve_bytes=1000)
    assert spare is not None
    assert spare.exists()
    assert spare not in [one.path for one in copies(folder)[-1:]]
