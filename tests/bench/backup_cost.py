"""How long a backup takes, and how long the longest write waits meanwhile: python
tests/bench/backup_cost.py

A data file of 1 and of 10 million readings is copied while another thread writes fifty rounds a
second, five hundred times as often as a daemon. Ways that stand beside each other: no copy at all,
the bare bytes, ours (SQLite's online backup by the megabyte, each brought onto the card before the
next), and SQLite's VACUUM INTO, which makes a smaller file in one go. All are done three times.
"""

import argparse
import os
import shutil
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path

from bench.budgets import free
from bench.figures import Figure, Series, section
from fakes import FakeClock
from noonpot.clock import SystemClock
from noonpot.ports import Batch
from noonpot.store.backup import copy
from noonpot.store.connection import examine, open_to_write, reading
from noonpot.store.sqlite import Store
from store.shelf import PROBES, opened
from store.shelf import reading as of_probe

PACE_S, IDLE_S, TIMES, SERIES_ID = 0.02, 5.0, 3, 1024
NONE, PLAIN, OURS, RIVAL = "no copy", "plain copy", "backup", "`VACUUM INTO`"
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


def plainly(source: Path, target: Path) -> None:
    """The floor: bytes copied and brought onto the card. What it makes may be no sound file."""
    shutil.copyfile(source, target)
    with target.open("rb") as file:
        os.fsync(file)


def in_one_go(source: Path, target: Path) -> None:
    """The rival: VACUUM INTO, checked and brought onto the card."""
    with reading(source) as db:
        db.execute("ROLLBACK")
        db.execute("VACUUM INTO ?", (str(target),))
    examine(target)
    with target.open("rb") as file:
        os.fsync(file)


def copied(folder: Path, readings: int) -> list[Figure]:
    """The figures for so many readings."""
    source, target, stop = folder / "noonpot.db", folder / "copy.db", threading.Event()
    filled(source, readings)
    ways: dict[str, Callable[[], object]] = {
        NONE: lambda: CLOCK.wait(stop, IDLE_S),
        PLAIN: lambda: plainly(source, target),
        OURS: lambda: copy(source, target, CLOCK, stop),
        RIVAL: lambda: in_one_go(source, target),
    }
    took_s: dict[str, list[float]] = {name: [] for name in ways}
    writes_ms: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(TIMES):
        for name, way in ways.items():
            target.unlink(missing_ok=True)
            clock = FakeClock(mono_s=2e8)  # long after what the file holds
            with opened(source, clock) as store:
                writer = Writer(store, clock)
                took_s[name].append(writer.during(way))
            writes_ms[name] += [1000 * each for each in writer.took_s]
    size = f"{readings / 1e6:.0f} million readings, {source.stat().st_size / 1e6:.0f} MB"
    copies = [
        Figure(free(f"{name} of {size}", " s", 1), Series(took_s[name]), Series(took_s[PLAIN]))
        for name in (OURS, RIVAL)
    ]
    writes = [
        Figure(
            free(f"a write during the {name} of {readings / 1e6:.0f} million", " ms", 1),
            Series(writes_ms[name]),
            Series(writes_ms[NONE]),
        )
        for name in (OURS, RIVAL)
    ]
    return copies + writes


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--millions", type=int, nargs="+", default=[1, 10])
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    figures = []
    for millions in given.millions:
        with tempfile.TemporaryDirectory(dir=given.folder) as made:
            figures += copied(Path(made), millions * 1_000_000)
    print(
        section(
            "A backup",
            figures,
            "Ours is SQLite's online backup by the megabyte, each on the card before the next: it "
            "takes longer so that a write does not. The rival is `VACUUM INTO`, in one go. The "
            "check of the copy is in both times.",
            "Floor of a copy: the bytes of the file copied and brought onto the card, unchecked. "
            "Floor of a write: the same writes while nothing is copied. Of both the longest tells "
            "more than the median.",
        )
    )


if __name__ == "__main__":
    main()
