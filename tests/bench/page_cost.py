"""What the page costs: python tests/bench/page_cost.py

The process of the page serves a data file with a year of cooks, ten million readings of five
probes, over real HTTP on loopback. Memory is the kernel's count of resident pages; times are those
of a viewer, from the question to the last byte, median and worst of some; beside them is the
processor time that the process took for it.
"""

import argparse
import json
import math
import sqlite3
import statistics
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing
from datetime import datetime, timedelta
from pathlib import Path

import httpx
import psutil

from broker import free_port, listens, until
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE
from noonpot.clock import SystemClock
from noonpot.core.readings import Role
from noonpot.core.station import ProbeSpec
from noonpot.store.sqlite import Store
from web.homes import CONFIG, page_process

BEGIN = datetime.fromisoformat("2025-06-03T07:00:00Z")
DAYS, COOK_S, STEP_S, VIEWERS, TIMES = 365, 9 * 3600, 6, 5, 15
CLOCK, NEVER = SystemClock(), threading.Event()
PROBES = (
    ProbeSpec("box-pot", Role.POT, "garden", "box/pot", "box"),
    ProbeSpec("box-core", Role.CORE, "garden", "box/core", "box"),
    ProbeSpec("shade", Role.AMBIENT, "garden", "ambient"),
    ProbeSpec("dish-pot", Role.POT, "garden", "dish/pot", "dish"),
    ProbeSpec("dish-core", Role.CORE, "garden", "dish/core", "dish"),
)


def readings(
    first: int, day: int, step_s: int, numbers: Sequence[int]
) -> Iterator[tuple[int, int]]:
    """Rows of one day: nine hours in the sun."""
    for second in range(0, COOK_S, step_s):
        tick = first + day * 86_400 + second
        value = int(16 * (20 + 100 * math.sin(math.pi * second / COOK_S)))
        for number in numbers:
            yield tick * 1024 + number, value + number


def filled(folder: Path) -> int:
    """A data file with a year of cooks; returns how many readings it holds. Day 0 is one cook of
    three probes read every 5 s.
    """
    with Store(folder / DATA_FILE, FakeClock(BEGIN)) as store:
        store.register(PROBES)
    with closing(sqlite3.connect(folder / DATA_FILE)) as db:
        (first,) = db.execute("SELECT max(first_tick) FROM clock_span").fetchone()
        add = "INSERT INTO reading (id, value) VALUES (?, ?)"
        db.executemany(add, readings(first, 0, 5, (1, 2, 3)))
        for day in range(1, DAYS + 2):
            db.executemany(add, readings(first, day, STEP_S, (1, 2, 3, 4, 5)))
        db.commit()
        (count,) = db.execute("SELECT count(*) FROM reading").fetchone()
    return int(count)


def ask(
    client: httpx.Client, process: psutil.Process, what: str, since: datetime, long: timedelta
) -> None:
    """Ask for a curve some times and print what it took."""
    query = {"since": since.timestamp(), "until": (since + long).timestamp(), "points": 600}
    took_ms, before = [], process.cpu_times()
    for _ in range(TIMES):
        begun_s = CLOCK.moment().mono_s
        body = client.get("/api/cookers/box/curve", params=query).content
        took_ms.append(1e3 * (CLOCK.moment().mono_s - begun_s))
    after = process.cpu_times()
    busy_ms = 1e3 * (after.user + after.system - before.user - before.system) / TIMES
    curve = json.loads(body)
    print(
        f"{what}: {statistics.median(took_ms):.0f} ms, worst {max(took_ms):.0f} ms, processor "
        f"{busy_ms:.0f} ms; {len(curve['time'])} points, {len(body) / 1000:.0f} kB, "
        f"a round in {curve['every_s']} s was looked at (0: all)"
    )


def memory(process: psutil.Process, what: str) -> None:
    """Print the resident memory."""
    print(f"{what}: {process.memory_info().rss / 1e6:.1f} MB")


def watch(address: str, begun: threading.Semaphore) -> None:
    """Look live until the page ends."""
    with httpx.Client(base_url=address, timeout=None) as client:  # noqa: S113  it never ends
        try:
            with client.stream("GET", "/api/live") as stream:
                begun.release()
                for _ in stream.iter_raw():
                    pass
        except httpx.TransportError:
            return


def measure(folder: Path) -> None:
    """Fill, serve, ask, print."""
    config = folder / "noonpot.toml"
    config.write_text(CONFIG, encoding="utf-8")
    print(f"{filled(folder)} readings, {(folder / DATA_FILE).stat().st_size / 1e6:.0f} MB")
    port, begun = free_port(), threading.Semaphore(0)
    address = f"http://127.0.0.1:{port}"
    with ExitStack() as stack:
        begun_s = CLOCK.moment().mono_s
        popen = stack.enter_context(page_process(config, folder, port))
        process = psutil.Process(popen.pid)
        until(lambda: listens(port), "the page is there")
        print(f"from the start to the first answer: {CLOCK.moment().mono_s - begun_s:.1f} s")
        client = stack.enter_context(httpx.Client(base_url=address, timeout=60))
        client.get("/api/station")
        memory(process, "memory, nobody looks")
        for _ in range(VIEWERS):
            threading.Thread(target=watch, args=[address, begun], daemon=True).start()
        for _ in range(VIEWERS):
            begun.acquire()
        say = popen.stdin
        if say is None:
            raise AssertionError
        before = process.cpu_times()
        for number in range(120):  # half a minute of two cookers at two states a second
            state = {"time": "2026-06-03T07:00:00Z", "station": "garden", "number": number}
            for cooker in ("box", "dish"):
                line = json.dumps(
                    {"topic": f"{cooker}/now", "payload": state | {"text": "x" * 600}}
                )
                say.write(line.encode() + b"\n")
            say.flush()
            CLOCK.wait(NEVER, 0.25)
        after = process.cpu_times()
        busy_s = after.user + after.system - before.user - before.system
        memory(process, f"memory, {VIEWERS} look")
        print(f"processor, 8 states a second for {VIEWERS} viewers: {100 * busy_s / 30:.1f} %")
        ask(client, process, "9 h at 5 s, 3 lines", BEGIN, timedelta(hours=9))
        ask(client, process, "a month", BEGIN + timedelta(days=30), timedelta(days=30))
        ask(client, process, "a year", BEGIN + timedelta(days=1), timedelta(days=DAYS))
        memory(process, f"memory after that, {VIEWERS} look")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as made:
        measure(Path(made))
