"""The shape of the data file, as the steps by which it grew.

A migration is a named function. It is applied in one transaction together with the record that it
was, so a file is always at one step or the next. Migrations that were released never change.
"""

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing

from noonpot.errors import NewerStoreError, StoreDamagedError

Migration = Callable[[sqlite3.Connection], None]

# In the file's header, so that it can be told from any other SQLite file: "Noon" in ASCII.
APPLICATION_ID = 0x4E6F6F6E


def clock_and_readings(db: sqlite3.Connection) -> None:
    """Ticks (see ``timeline``), probes through time, their readings and faults.

    The id of a reading is ``tick * 1024 + series``: the readings of one round lie side by side at
    the end of the table, which spares the memory card and a column. ``value`` is in 1/16 °C, the
    step of the finest probe, or 1/16 W/m². A fault is written when it changes; an empty kind is
    recovery. ``reading_utc`` is for whoever opens the file by hand.
    """
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(
        """CREATE TABLE clock_span (
            first_tick INTEGER PRIMARY KEY,
            boot TEXT NOT NULL,
            zero REAL NOT NULL,
            wall_s INTEGER NOT NULL,
            stamped_wall_s INTEGER NOT NULL,
            trusted INTEGER NOT NULL CHECK (trusted IN (0, 1))
        )"""
    )
    db.execute(
        """CREATE TABLE series (
            id INTEGER PRIMARY KEY CHECK (id BETWEEN 1 AND 1023),
            probe TEXT NOT NULL,
            role TEXT NOT NULL,
            cooker TEXT NOT NULL,
            UNIQUE (probe, role, cooker)
        )"""
    )
    db.execute("CREATE TABLE reading (id INTEGER PRIMARY KEY, value INTEGER NOT NULL)")
    db.execute(
        """CREATE TABLE fault (
            series INTEGER NOT NULL REFERENCES series,
            tick INTEGER NOT NULL,
            kind TEXT NOT NULL,
            detail TEXT NOT NULL,
            PRIMARY KEY (series, tick)
        ) WITHOUT ROWID"""
    )
    db.execute(
        """CREATE VIEW reading_utc AS
            SELECT datetime((reading.id >> 10) + (
                    SELECT wall_s FROM clock_span WHERE first_tick <= reading.id >> 10
                    ORDER BY first_tick DESC LIMIT 1), 'unixepoch') AS at,
                probe, role, cooker, value / 16.0 AS value
            FROM reading JOIN series ON series.id = reading.id & 1023"""
    )


def cooks_and_events(db: sqlite3.Connection) -> None:
    """What happened at the cookers, and the cooks it made. A time is a span and a tick."""
    db.execute(
        """CREATE TABLE event (
            id INTEGER PRIMARY KEY,
            uid TEXT UNIQUE,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            cooker TEXT NOT NULL,
            kind TEXT NOT NULL,
            detail TEXT NOT NULL
        )"""
    )
    db.execute(
        """CREATE TABLE cook (
            id INTEGER PRIMARY KEY,
            cooker TEXT NOT NULL,
            food TEXT NOT NULL,
            target_c REAL,
            started_span INTEGER NOT NULL REFERENCES clock_span,
            started_tick INTEGER NOT NULL,
            stopped_span INTEGER REFERENCES clock_span,
            stopped_tick INTEGER,
            aim_azimuth_deg REAL,
            aim_elevation_deg REAL,
            load_span INTEGER REFERENCES clock_span,
            load_tick INTEGER,
            load_food TEXT,
            load_mass_kg REAL,
            load_start_c REAL,
            load_target_c REAL
        )"""
    )


def alarms_and_outbox(db: sqlite3.Connection) -> None:
    """Where every alarm stands, what is to be told, and what became of it on each channel."""
    db.execute(
        """CREATE TABLE alarm (
            cooker TEXT NOT NULL,
            alarm TEXT NOT NULL,
            state TEXT NOT NULL,
            since_span INTEGER NOT NULL REFERENCES clock_span,
            since_tick INTEGER NOT NULL,
            since_mono_s REAL NOT NULL,
            occurrence INTEGER NOT NULL,
            subject TEXT NOT NULL,
            text TEXT NOT NULL,
            priority TEXT NOT NULL,
            rising_s REAL,
            falling_s REAL,
            told_s REAL,
            until_s REAL,
            written_span INTEGER NOT NULL REFERENCES clock_span,
            written_mono_s REAL NOT NULL,
            PRIMARY KEY (cooker, alarm)
        ) WITHOUT ROWID"""
    )
    db.execute(
        """CREATE TABLE alert (
            seq INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            expires_tick INTEGER NOT NULL,
            cooker TEXT NOT NULL,
            alarm TEXT NOT NULL,
            state TEXT NOT NULL,
            priority TEXT NOT NULL,
            text TEXT NOT NULL
        )"""
    )
    db.execute(
        """CREATE TABLE settlement (
            channel TEXT NOT NULL,
            alert INTEGER NOT NULL REFERENCES alert,
            outcome TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (channel, alert)
        ) WITHOUT ROWID"""
    )


def uplink_and_sun(db: sqlite3.Connection) -> None:
    """How far each time-series server has been served, what it refused; computed days of sun."""
    db.execute(
        """CREATE TABLE cursor (
            sink TEXT NOT NULL,
            stream TEXT NOT NULL,
            position INTEGER NOT NULL,
            PRIMARY KEY (sink, stream)
        ) WITHOUT ROWID"""
    )
    db.execute(
        """CREATE TABLE quarantine (
            sink TEXT NOT NULL,
            line TEXT NOT NULL,
            reason TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (sink, line)
        ) WITHOUT ROWID"""
    )
    db.execute("CREATE TABLE sun_day (id INTEGER PRIMARY KEY, key TEXT UNIQUE, body BLOB NOT NULL)")


def meal_of_a_cook(db: sqlite3.Connection) -> None:
    """When a cook shall be eaten, in UTC. A person said so; no clock stamped it, so it is not moved
    when a clock is corrected.
    """
    db.execute("ALTER TABLE cook ADD COLUMN meal_at TEXT")


def starts_of_the_daemon(db: sqlite3.Connection) -> None:
    """Each start: when, the last reading before, and whether it came to a proper end."""
    db.execute(
        """CREATE TABLE start (
            id INTEGER PRIMARY KEY,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            last_reading INTEGER,
            ended INTEGER NOT NULL DEFAULT 0 CHECK (ended IN (0, 1))
        )"""
    )


def repeats_and_latches(db: sqlite3.Connection) -> None:
    """How often each alarm was told, what it would be if nothing hid it, whether it is latched."""
    db.execute("ALTER TABLE alarm ADD COLUMN tellings INTEGER NOT NULL DEFAULT 0")
    db.execute("ALTER TABLE alarm ADD COLUMN beneath TEXT NOT NULL DEFAULT 'normal'")
    db.execute("ALTER TABLE alarm ADD COLUMN latched INTEGER NOT NULL DEFAULT 0")
    db.execute("UPDATE alarm SET tellings = 1 WHERE told_s IS NOT NULL")


def forecasts_as_given(db: sqlite3.Connection) -> None:
    """The headlines of the forecasts of each cook: target, chance, and the three times as seconds
    from when they were given.
    """
    db.execute(
        """CREATE TABLE forecast (
            cook INTEGER NOT NULL REFERENCES cook,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            target_c REAL NOT NULL,
            p_done REAL NOT NULL,
            p10_s REAL,
            p50_s REAL,
            p90_s REAL,
            PRIMARY KEY (cook, tick)
        ) WITHOUT ROWID"""
    )


def calibrations_of_probes(db: sqlite3.Connection) -> None:
    """What makes the readings of a probe true, from a tick on: gain times reading plus offset. The
    readings stay as they are. ``place`` is where the probe answered; ``points`` are what it showed
    in baths, without any it goes uncorrected.
    """
    db.execute(
        """CREATE TABLE calibration (
            probe TEXT NOT NULL,
            tick INTEGER NOT NULL,
            span INTEGER NOT NULL REFERENCES clock_span,
            place TEXT NOT NULL,
            gain REAL NOT NULL CHECK (gain > 0),
            offset_k REAL NOT NULL,
            spread_k REAL NOT NULL,
            points TEXT NOT NULL,
            PRIMARY KEY (probe, tick)
        ) WITHOUT ROWID"""
    )


def rollups_of_readings(db: sqlite3.Connection) -> None:
    """What is left of old readings outside of cooks, see ``retention``. The id is the first tick of
    a roll-up times 1024 plus the series; it lasts ten minutes or less. ``low`` and ``high`` are as
    the probe gave them, like ``value``, and ``low_s`` and ``high_s`` when they came, from its first
    tick on [s]. The mean is ``total`` by ``readings``. All before ``until_tick`` was gone through.
    ``rollup_utc`` is for whoever opens the file by hand.
    """
    db.execute(
        """CREATE TABLE rollup (
            id INTEGER PRIMARY KEY,
            low INTEGER NOT NULL,
            low_s INTEGER NOT NULL,
            high INTEGER NOT NULL,
            high_s INTEGER NOT NULL,
            total INTEGER NOT NULL,
            readings INTEGER NOT NULL CHECK (readings > 0)
        )"""
    )
    db.execute(
        """CREATE TABLE rolled_up (
            id INTEGER PRIMARY KEY CHECK (id = 0),
            until_tick INTEGER NOT NULL
        )"""
    )
    db.execute(
        """CREATE VIEW rollup_utc AS
            SELECT datetime((rollup.id >> 10) + (
                    SELECT wall_s FROM clock_span WHERE first_tick <= rollup.id >> 10
                    ORDER BY first_tick DESC LIMIT 1), 'unixepoch') AS at,
                probe, role, cooker, low / 16.0 AS low, high / 16.0 AS high,
                total / 16.0 / readings AS mean, readings
            FROM rollup JOIN series ON series.id = rollup.id & 1023"""
    )


MIGRATIONS: Sequence[Migration] = (
    clock_and_readings,
    cooks_and_events,
    alarms_and_outbox,
    uplink_and_sun,
    meal_of_a_cook,
    starts_of_the_daemon,
    repeats_and_latches,
    forecasts_as_given,
    calibrations_of_probes,
    rollups_of_readings,
)


def applied(db: sqlite3.Connection) -> list[str]:
    """The names of the migrations that were applied to a file, in their order. Writes nothing."""
    known = db.execute("SELECT 1 FROM sqlite_schema WHERE name = 'migration'").fetchone()
    return [row[0] for row in db.execute("SELECT name FROM migration ORDER BY id")] if known else []


def check_shape(db: sqlite3.Connection, path: object) -> None:
    """Raise StoreDamagedError when the tables of a file are not as its migrations made them."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as made:
        for migration in MIGRATIONS[: len(applied(db))]:
            migration(made)
        wanted, found = _shape(made), _shape(db)
    strange = sorted(table for table in wanted if wanted[table] != found.get(table))
    if strange:
        raise StoreDamagedError(
            f"data file {path} is damaged (the table {strange[0]} is not as it was made); move it "
            "aside and restore a backup"
        )


def _shape(db: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    """The columns and references of every table, as SQLite understands them. Their text would not
    do: each release may write that in its own way.
    """
    tables = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    return {
        name: [
            tuple(row)
            for what in ("table_xinfo", "foreign_key_list")
            for row in db.execute(f"SELECT * FROM pragma_{what}(?)", (name,))  # noqa: S608  no input
        ]
        for (name,) in tables
    }


def refuse_newer(
    db: sqlite3.Connection, path: object, migrations: Sequence[Migration] = MIGRATIONS
) -> None:
    """Raise NewerStoreError when the file has been through a migration not known here, and
    StoreDamagedError when it lacks one that came before: then its list of them is damaged.
    """
    done = applied(db)
    known = [migration.__name__ for migration in migrations]
    unknown = [name for name in done if name not in known]
    if done[: len(known)] != known[: len(done)]:
        raise StoreDamagedError(
            f"{path} does not tell by which steps it came to be (it names {', '.join(done)}): it "
            "is damaged; move it aside and restore a backup"
        )
    if unknown:
        raise NewerStoreError(
            f"{path} was written by a newer Noonpot (it knows of {', '.join(unknown)}) and is left "
            "as it is; install that version again, or name another data file"
        )


def migrate(
    db: sqlite3.Connection, at: str, migrations: Sequence[Migration] = MIGRATIONS
) -> list[str]:
    """Apply what is missing; ``at`` is the time to note. Returns the names applied now."""
    done = set(applied(db))
    missing = [migration for migration in migrations if migration.__name__ not in done]
    for migration in missing:
        db.execute("BEGIN IMMEDIATE")
        try:
            db.execute(
                "CREATE TABLE IF NOT EXISTS migration"
                " (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, at TEXT NOT NULL)"
            )
            migration(db)
            db.execute("INSERT INTO migration (name, at) VALUES (?, ?)", (migration.__name__, at))
            db.execute("COMMIT")
        except BaseException:
            db.execute("ROLLBACK")
            raise
    return [migration.__name__ for migration in missing]
