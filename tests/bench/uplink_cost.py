"""How fast readings are filled in at a time-series server after an absence: python
tests/bench/uplink_cost.py

A data file with more than half a day of readings meets an empty VictoriaMetrics on loopback. The
floor is the same lines, made beforehand, in bare HTTP posts to the same server.
"""

import http.client
import statistics
import tempfile
from collections.abc import Sequence
from contextlib import closing
from functools import partial
from pathlib import Path

from bench.budgets import free
from bench.figures import section, waiting_figure
from bench.processes import Took, timed
from fakes import FakeClock
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from noonpot.uplink.client import line
from noonpot.uplink.influx import ROWS, SINK, Uplink
from store.shelf import PROBES, opened, reading
from uplink.victoria import Victoria

PUSHES = 60
BACKLOG, BATCH = 240_000, 200
STATION, BARE = "garden", "bare"
WRITE = "/api/v2/write?org=any&bucket=any&precision=ms"


def post(connection: http.client.HTTPConnection, lines: Sequence[str]) -> None:
    """One bare write."""
    connection.request("POST", WRITE, "\n".join(lines).encode())
    with connection.getresponse() as answer:
        answer.read()
        assert answer.status == http.client.NO_CONTENT, answer.status


def fill(store: Store, clock: FakeClock) -> None:
    """Lay up readings that nobody has sent."""
    for _ in range(BACKLOG // len(PROBES) // BATCH):
        samples = []
        for number in range(BATCH):
            now = clock.advance(2)
            samples += [reading(now, 20 + number / 16, probe.name) for probe in PROBES]
        store.write(now, Batch(samples=samples))


def back_fill(folder: Path, server: Victoria) -> tuple[list[Took], list[Took]]:
    """What each write took, ours and the bare one."""
    clock, ours, bare = FakeClock(), [], []
    with (
        opened(folder / "noonpot.db", clock) as store,
        closing(http.client.HTTPConnection("127.0.0.1", server.port)) as connection,
        closing(Uplink(store, server, STATION, clock)) as uplink,
    ):
        fill(store, clock)
        for _ in range(PUSHES):
            lines = [line(point, BARE) for point in store.outgoing(SINK, ROWS)]
            assert len(lines) == ROWS
            bare.append(timed(partial(post, connection, lines)))
            ours.append(timed(uplink.push))
    found = server.points("temperature")
    ends = {
        name: sum(len(p) for tags, p in found.items() if ("station", name) in tags)
        for name in (STATION, BARE)
    }
    assert ends[STATION] == ends[BARE] > 0, f"the server has not got all: {ends}"
    return ours, bare


def main() -> None:
    """Measure and print the table."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        with Victoria(folder / "victoria") as server:
            ours, bare = back_fill(folder, server)
    rates = [ROWS * len(took) / sum(t.whole_s for t in took) for took in (ours, bare)]
    busy_ms = 1e3 * statistics.median(took.busy_s for took in ours)
    more = f"processor {busy_ms:.1f} ms; {rates[0]:.0f} points/s, the floor {rates[1]:.0f}"
    print(
        section(
            "The uplink",
            [waiting_figure(free(f"{ROWS} points of a back-fill", " ms", 1), ours, bare, more)],
            "Ours reads the points from the data file, makes lines of them, sends them, moves its "
            "cursor onto the card and counts what waits. Floor: lines made beforehand, in bare "
            "HTTP posts to the same VictoriaMetrics. Processor time is ours alone, without "
            "the server's.",
        )
    )


if __name__ == "__main__":
    main()
