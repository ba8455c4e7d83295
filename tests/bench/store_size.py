"""Bytes that a reading takes, and bytes written to the card: python tests/bench/store_size.py

Eight probes every 2 s, one commit every 10 s, as fast as it goes, for some simulated hours. Written
is what the kernel counts for this process (write_bytes of /proc/self/io), pages made dirty: without
what the file system adds for its own journal, and before any wear inside the card.
"""

import argparse
import random
import tempfile
from dataclasses import replace
from pathlib import Path

from fakes import FakeClock
from noonpot.core.readings import Reading
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from store.shelf import PROBES, reading

PROBE_COUNT, ROUND_S, COMMIT_S = 8, 2, 10


def written_bytes() -> int:
    """What this process has had written to disk so far."""
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["write_bytes"])


def measure(folder: Path, hours: int) -> None:
    """Fill a store for so many hours, and print the figures."""
    path = folder / "noonpot.db"
    probes = tuple(replace(PROBES[0], name=f"probe-{n}") for n in range(PROBE_COUNT))
    clock, chance, values = FakeClock(), random.Random(1), [60.0] * PROBE_COUNT
    with Store(path, clock) as store:
        store.register(probes)
        size = path.stat().st_size
        before = written_bytes()
        batch: list[Reading] = []
        for _ in range(hours * 3600 // COMMIT_S):
            for _ in range(COMMIT_S // ROUND_S):
                now = clock.advance(ROUND_S)
                values = [value + chance.gauss(0, 0.3) for value in values]
                batch += [reading(now, v, p.name) for v, p in zip(values, probes, strict=True)]
            store.write(now, Batch(samples=batch))
            batch = []
        written = written_bytes() - before
    readings = hours * 3600 // ROUND_S * PROBE_COUNT
    print(f"{readings} readings of {PROBE_COUNT} probes in {hours} h")
    print(f"{(path.stat().st_size - size) / readings:.1f} bytes a reading in the file, as written")
    print(
        f"{written / hours / 1e6:.1f} MB written an hour, {written / hours * 24 / 1e6:.0f} MB a day"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=int, default=8, help="simulated hours")
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as made:
        measure(Path(made), given.hours)
