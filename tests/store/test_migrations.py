"""How the data file comes to its shape, one whole step at a time."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest

from noonpot.store.migrations import MIGRATIONS, applied, migrate

AT = "2026-06-03T07:00:00Z"


@pytest.fixture
def db() -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        yield db


def shape(db: sqlite3.Connection) -> list[tuple[str, str]]:
    return db.execute("SELECT name, sql FROM sqlite_schema ORDER BY name").fetchall()


def test_an_empty_file_gets_all_steps_in_their_order(db: sqlite3.Connection) -> None:
    names = [migration.__name__ for migration in MIGRATIONS]
    assert applied(db) == []
    assert migrate(db, AT) == names
    assert applied(db) == names
    assert db.execute("SELECT DISTINCT at FROM migration").fetchall() == [(AT,)]


def test_a_second_run_changes_nothing(db: sqlite3.Connection) -> None:
    migrate(db, AT)
    before, changes = shape(db), db.total_changes
    assert migrate(db, "2027-01-01T00:00:00Z") == []
    assert (shape(db), db.total_changes) == (before, changes)


@pytest.mark.parametrize("steps", range(1, len(MIGRATIONS)))
def test_a_file_of_any_earlier_step_gets_the_rest(db: sqlite3.Connection, steps: int) -> None:
    migrate(db, AT, MIGRATIONS[:steps])
    assert migrate(db, AT) == [migration.__name__ for migration in MIGRATIONS[steps:]]
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(fresh, AT)
        assert shape(db) == shape(fresh)


def test_a_step_that_fails_half_way_leaves_the_step_before(db: sqlite3.Connection) -> None:
    def stumbles(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half (id INTEGER)")
        db.execute("INSERT INTO series (probe) VALUES (NULL)")

    migrate(db, AT)
    before = shape(db)
    with pytest.raises(sqlite3.IntegrityError):
        migrate(db, AT, [*MIGRATIONS, stumbles])
    assert shape(db) == before
    assert "stumbles" not in applied(db)
    assert not db.in_transaction
