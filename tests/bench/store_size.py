"""Bytes that a reading takes, bytes written to the card, and how long a commit takes: python
tests/bench/store_size.py

Eight probes every 2 s, one commit every 10 s, as fast as it goes, for some simulated hours. Written
is what the kernel counts for this process (write_bytes of /proc/self/io), pages made dirty: without
what the file system adds for its own journal, and before any wear inside the card.

The floor is SQLite alone: after each commit of ours the same rows go into a file with one table.
"""

import argparse
import random
import statistics
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from bench.bare_store import BareStore
from bench.budgets import BYTES, WRITTEN, free
from bench.figures import Figure, once, section, waiting_figure
from bench.processes import Took, timed
from fakes import FakeClock
from noonpot.core.readings import Reading
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from store.shelf import PROBES, reading

PROBE_COUNT, ROUND_S, COMMIT_S = 8, 2, 10
DAY_H = 24


def written_bytes() -> int:
    """What this process has had written to disk so far."""
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["write_bytes"])


@dataclass
class Side:
    """What the commits of one file took, and what they wrote."""

    path: Path
    took: list[Took] = field(default_factory=list)
    written: int = 0
    begun: int = 0

    def commit(self, work: Callable[[], object]) -> None:
        """Do one commit."""
        before = written_bytes()
        self.took.append(timed(work))
        self.written += written_bytes() - before

    def bytes_each(self, readings: int) -> float:
        """What a reading takes in the file."""
        return (self.path.stat().st_size - self.begun) / readings


def fill(ours: Side, bare: Side, hours: int) -> int:
    """Fill both files for so many hours; returns how many readings there are."""
    probes = tuple(replace(PROBES[0], name=f"probe-{n}") for n in range(PROBE_COUNT))
    clock, chance, values = FakeClock(), random.Random(1), [60.0] * PROBE_COUNT
    BareStore(bare.path).close()
    bare.begun = bare.path.stat().st_size
    floor, readings = BareStore(bare.path), 0
    with Store(ours.path, clock) as store:
        store.register(probes)
    ours.begun = ours.path.stat().st_size
    with Store(ours.path, clock) as store:
        store.register(probes)
        for _ in range(hours * 3600 // COMMIT_S):
            batch: list[Reading] = []
            for _ in range(COMMIT_S // ROUND_S):
                now = clock.advance(ROUND_S)
                values = [value + chance.gauss(0, 0.3) for value in values]
                batch += [reading(now, v, p.name) for v, p in zip(values, probes, strict=True)]
            rows = [
                (int(r.mono_s) * 1024 + n % PROBE_COUNT, round(16 * r.value))
                for n, r in enumerate(batch)
            ]
            ours.commit(partial(store.write, now, Batch(samples=batch)))
            bare.commit(partial(floor.commit, rows))
            readings += len(batch)
    floor.close()
    return readings


def main(folder: Path, hours: int) -> None:
    """Fill a store for so many hours, and print the figures."""
    ours, bare = Side(folder / "noonpot.db"), Side(folder / "bare.db")
    readings = fill(ours, bare, hours)
    days = hours / DAY_H
    written, bare_written = (once(side.written / 1e6 / days) for side in (ours, bare))
    commit = free(f"one commit of {COMMIT_S // ROUND_S * PROBE_COUNT} readings", " ms", 2)
    busy_ms = 1e3 * statistics.median(took.busy_s for took in ours.took)
    print(
        section(
            "The store",
            [
                Figure(BYTES, once(ours.bytes_each(readings)), once(bare.bytes_each(readings))),
                Figure(WRITTEN, written, bare_written),
                waiting_figure(commit, ours.took, bare.took, f"processor {busy_ms:.2f} ms"),
            ],
            f"{readings} readings, {PROBE_COUNT} probes every {ROUND_S} s for {hours} h, a commit "
            f"every {COMMIT_S} s; what alarms, events and forecasts add is not in it.",
            "Floor: a bare insert loop of sqlite3 with the same rows in each commit and the same "
            "pragmas, WAL and synchronous FULL (`tests/bench/bare_store.py`), one commit of it "
            "after each of ours. Most of a commit is the disk's fsync.",
        )
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=int, default=8, help="simulated hours")
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as made:
        main(Path(made), given.hours)
