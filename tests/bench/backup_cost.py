"""How long a backup takes, and how long the longest write waits meanwhile: python
tests/bench/backup_cost.py

A data file of 1 and of 10 million readings is copied while another thread writes fifty rounds a
second, five hundred times as often as a daemon. Three ways stand beside each other: no copy at all,
ours (SQLite's online backup by the megabyte, each brought onto the card before the next), and
SQLite's VACUUM INTO, which makes a smaller file in one go. Checks and fsyncs are in both times; all
are done three times, the longest counts.
"""

import argparse
import os
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path

from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.ports import Batch
from noonpot.store.backup import copy
from noonpot.store.connection import examine, open_to_write, reading
from noonpot.store.sqlite import Store
from store.shelf import PROBES, opened
from store.shelf import reading as of_probe

PACE_S, IDLE_S, TIMES, SERIES_ID = 0.02, 5.0, 3, 1024
CLOCK = SystemClock()


def filled(path: Path, readings: int) -> None:
    """A data file with so many readings of six probes, one every 2 s."""
    opened(path, FakeClock(mono_s=0.0)).close()
    db = open_to_write(path)
    (first,) = db.execute("SELECT max(first_tick) + 10 FROM clock_span").fetchone()
    db.execute("PRAGMA synchronous = OFF")
    db.execute("BEGIN")
    db.executemany(
        "INSERT INTO reading (id, value) VALUES (?, ?)",
        (
            ((first + 2 * (n // 6)) * SERIES_ID + n % 6 + 1, 960 + (7 * n) % 300)
            for n in range(readings)
        ),
    )
    db.execute("COMMIT")
    db.close()


class Writer:
    """Writes round after round, and keeps how long each took [s]."""

    def __init__(self, store: Store, clock: FakeClock) -> None:
        self.took_s: list[float] = []
        self._store = store
        self._clock = clock
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def during(self, work: Callable[[], object]) -> float:
        """Write as long as the work goes on; returns how long that was [s]."""
        begun_s = CLOCK.moment().mono_s
        self._thread.start()
        try:
            work()
        finally:
            self._stop.set()
            self._thread.join()
        return CLOCK.moment().mono_s - begun_s

    def _run(self) -> None:
        while not CLOCK.wait(self._stop, PACE_S):
            now = self._clock.advance(2)
            batch = Batch(samples=[of_probe(now, 60.0, probe.name) for probe in PROBES])
            begun_s = CLOCK.moment().mono_s
            self._store.write(now, batch)
            self.took_s.append(CLOCK.moment().mono_s - begun_s)


def in_one_go(source: Path, target: Path) -> None:
    """The rival: VACUUM INTO, checked and brought onto the card."""
    with reading(source) as db:
        db.execute("ROLLBACK")
        db.execute("VACUUM INTO ?", (str(target),))
    examine(target)
    with target.open("rb") as file:
        os.fsync(file)


def measure(folder: Path, readings: int) -> None:
    """Print the figures for so many readings."""
    source, target, stop = folder / "noonpot.db", folder / "copy.db", threading.Event()
    filled(source, readings)
    ways: dict[str, Callable[[], object]] = {
        "no copy": lambda: CLOCK.wait(stop, IDLE_S),
        "ours": lambda: copy(source, target, CLOCK, stop),
        "VACUUM INTO": lambda: in_one_go(source, target),
    }
    print(f"{readings / 1e6:.0f} million readings, {source.stat().st_size / 1e6:.0f} MB")
    for name, way in ways.items():
        took_s, writes_ms, log_mb = 0.0, [], 0.0
        for _ in range(TIMES):
            target.unlink(missing_ok=True)
            clock = FakeClock(mono_s=2e8)  # long after what the file holds
            with opened(source, clock) as store:
                writer = Writer(store, clock)
                took_s = max(took_s, writer.during(way))
                log_mb = max(log_mb, source.with_name("noonpot.db-wal").stat().st_size / 1e6)
            writes_ms += [1000 * each for each in writer.took_s]
        writes_ms.sort()
        most = writes_ms[int(0.99 * len(writes_ms))]
        print(
            f"  {name:12} {took_s:5.1f} s; of {len(writes_ms):4} writes the median "
            f"{writes_ms[len(writes_ms) // 2]:.1f} ms, 99 % within {most:.0f} ms, longest "
            f"{writes_ms[-1]:.0f} ms; log {log_mb:.1f} MB"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--millions", type=int, nargs="+", default=[1, 10])
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    for millions in given.millions:
        with tempfile.TemporaryDirectory(dir=given.folder) as made:
            measure(Path(made), millions * 1_000_000)
