"""What nights cost the card: backups, and roll-ups, beside the readings themselves.

In short a month of a small station; with NOONPOT_ENDURANCE=full two months of eight probes every
8 s; the usual 2 s cost four times as much. Written is what the kernel counts for this process,
pages made dirty.
"""

import os
import sqlite3
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.app.machine import DATA_FILE, open_store
from noonpot.app.upkeep import Upkeep
from noonpot.clock import SystemClock
from noonpot.core.readings import Reading
from noonpot.ports import Batch, Health
from noonpot.settings.reading import load
from noonpot.store.connection import open_to_write
from noonpot.store.retention import Rule
from noonpot.store.samples import SERIES
from noonpot.store.sqlite import Store
from store.attic import DAY_S
from store.shelf import PROBES as STATION
from store.test_drill import fill, written_bytes
from web.homes import CONFIG

FULL = os.environ.get("NOONPOT_ENDURANCE") == "full"
EVERY_S, PROBES, BEFORE, NIGHTS = (8, 8, 45, 20) if FULL else (600, 3, 0, 32)
WHOLE_DAYS = 30
NEVER = threading.Event()


def lived(path: Path, clock: FakeClock, days: int) -> None:
    """So many days of readings, written at once: what they cost is measured elsewhere."""
    with closing(open_to_write(path)) as db:
        now = clock.moment()
        (first, zero, wall_s) = db.execute(
            "SELECT max(coalesce((SELECT max(id) >> 10 FROM reading), 0), first_tick) + 1,"
            " zero, wall_s FROM clock_span ORDER BY first_tick DESC LIMIT 1"
        ).fetchone()
        assert now.at.timestamp() - wall_s == pytest.approx(zero + now.mono_s, abs=2)
        db.execute("PRAGMA synchronous = OFF")
        db.execute("BEGIN")
        db.executemany(
            "INSERT OR REPLACE INTO reading (id, value) VALUES (?, ?)",
            (
                (tick * SERIES + series, 960 + (7 * tick + 31 * series) % 300)
                for tick in range(first, first + days * DAY_S, EVERY_S)
                for series in range(1, 1 + PROBES)
            ),
        )
        db.execute("COMMIT")
    clock.advance(days * DAY_S)


def test_nights_cost_the_card_little(tmp_path: Path) -> None:
    config = tmp_path / "noonpot.toml"
    config.write_text(f"{CONFIG}[readings]\nwhole_days = {WHOLE_DAYS}\n", encoding="utf-8")
    settings, clock, health = load(config), FakeClock(), Health()
    file, nights = settings.data / DATA_FILE, []
    with open_store(settings, clock) as store:
        store.register(settings.station.probes)
        if BEFORE:
            lived(file, clock, BEFORE)
        upkeep = Upkeep(settings, file, clock, health, store)
        for _ in range(NIGHTS):
            lived(file, clock, 1)
            now = clock.moment()
            store.write(now, Batch(samples=[Reading("box-pot", now.at, now.mono_s, 20.0)]))
            begun = written_bytes()
            upkeep.tend(NEVER)
            nights.append(written_bytes() - begun)
            clock.advance(3600)
        found = upkeep.readings()
    assert upkeep.state() is not None
    assert health.counts["backups"] == NIGHTS
    assert found is not None
    assert found.rolled_up is not None
    assert found.oldest is not None
    assert clock.moment().at - found.oldest < timedelta(days=WHOLE_DAYS + NIGHTS / 24 + 2)
    size = file.stat().st_size
    print(f"data file {size / 1e6:.1f} MB; MB written by night: ", end="")
    print(" ".join(f"{night / 1e6:.1f}" for night in nights))
    late = nights[-7:]
    print(f"last 7 nights: mean {sum(late) / 7e6:.1f} MB, most {max(late) / 1e6:.1f} MB")
    with closing(sqlite3.connect(file)) as db:
        print("free pages in the file", db.execute("PRAGMA freelist_count").fetchone()[0])
    if FULL:
        assert sum(late) / 7 < 0.1e9 / 4


def test_no_write_waits_long_for_the_rolling_up(tmp_path: Path) -> None:
    path, rounds = tmp_path / "noonpot.db", 0
    with Store(path, SystemClock()) as store:
        store.register(STATION)
        fill(path, 1_000_000 if FULL else 60_000)
        rule = Rule(-DAY_S * 365, 0, 0)  # as if a year had passed
        stays = store.stays_whole(rule)
        store.slowest_write_s()
        while store.roll_up(rule, stays).more:
            rounds += 1
        slowest_s = store.slowest_write_s()
    print(f"the longest of {rounds} transactions took {slowest_s * 1000:.0f} ms")
    assert rounds > 10
    assert slowest_s < 1.0  # readings are written every ten seconds
