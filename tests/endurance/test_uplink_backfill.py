"""A server that comes new into a house gets the years before, too: how long that takes."""

import time
from pathlib import Path

import pytest

from endurance.extent import FULL, Tell
from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.store.passes import RIPE_S
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import Uplink
from store.shelf import PROBES, opened, write_reading
from uplink.victoria import Victoria

READINGS = 1_000_000
YEAR = 10_000_000
"""What a busy house writes in a year."""


def filled(path: Path, clock: FakeClock) -> Store:
    """A store with a million readings, two seconds apart."""
    store = opened(path, clock)
    write_reading(store, clock.moment(), 20)
    db = store._db  # noqa: SLF001
    (tick,) = db.execute("SELECT max(id) >> 10 FROM reading").fetchone()
    rounds = READINGS // len(PROBES)
    db.execute("BEGIN")
    db.executemany(
        "INSERT OR REPLACE INTO reading VALUES (?, ?)",
        (
            ((tick + 2 * number) << 10 | series, 320 + number % 1000)
            for number in range(rounds)
            for series in range(1, len(PROBES) + 1)
        ),
    )
    db.execute("COMMIT")
    clock.advance(2 * rounds)
    return store


@pytest.mark.skipif(not FULL, reason="it takes minutes: only with NOONPOT_ENDURANCE=full")
def test_a_million_readings_are_sent_twice_and_are_there_once(tmp_path: Path, figure: Tell) -> None:
    clock, watch = FakeClock(), SystemClock()
    with (
        filled(tmp_path / "noonpot.db", clock) as store,
        Victoria(tmp_path / "victoria") as server,
    ):
        (rows,) = store._db.execute("SELECT count(*) FROM reading").fetchone()  # noqa: SLF001
        link = Uplink(store, server, "garden", clock)
        taken_s, cpu_s, sent = [], time.process_time(), 0
        for _ in range(2):
            begun_s = watch.moment().mono_s
            while (step := link.push()).next_try_s == 0:
                sent += step.sent
            sent += step.sent
            assert (step.behind, step.problem) == (0, "")
            taken_s.append(watch.moment().mono_s - begun_s)
            clock.advance(RIPE_S)
            link.push()
        cpu_s = time.process_time() - cpu_s
        assert sent == 2 * rows
        found = server.points("temperature") | server.points("irradiance")
        assert sum(map(len, found.values())) == rows
    rate = sent / sum(taken_s)
    figure(
        9,
        f"back-fill of {rows} readings, each twice",
        f"first pass {taken_s[0]:.0f} s, second {taken_s[1]:.0f} s, {rate:.0f} points/s, "
        f"{1e6 * cpu_s / sent:.0f} µs of processor each; 10 M would take "
        f"{YEAR / READINGS * sum(taken_s) / 60:.0f} min",
        "no bar",
    )
