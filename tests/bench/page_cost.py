"""What the page costs: python tests/bench/page_cost.py

The process of the page serves a data file with a year of cooks, ten million readings of five
probes, over real HTTP on loopback. Memory is the kernel's count of resident pages; times are those
of a viewer, from the question to the last byte, median and worst of some; beside them is the
processor time that the process took for it. The floors are a bare file and bare SQL.
"""

import argparse
import json
import math
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import IO

import httpx
import psutil

from bench.budgets import COLD_YEAR, YEAR, Bar, free
from bench.figures import Figure, Series, once, section, series
from bench.processes import CLOCK, Took, timed
from broker import free_port, listens, until
from fakes import FakeClock
from noonpot.app.machine import DATA_FILE
from noonpot.core.readings import Role
from noonpot.core.station import ProbeSpec
from noonpot.store.samples import SERIES
from noonpot.store.sqlite import Store
from web.homes import CONFIG, page_process

BEGIN = datetime.fromisoformat("2025-06-03T07:00:00Z")
DAYS, COOK_S, STEP_S, VIEWERS, TIMES = 365, 9 * 3600, 6, 5, 15
COLD_TIMES, STATES = 3, 120
NEVER = threading.Event()
LOADED = """import numpy, pydantic, starlette.applications, uvicorn
print([line.split()[1] for line in open("/proc/self/status") if line.startswith("VmRSS")][0])"""
PROBES = (
    ProbeSpec("box-pot", Role.POT, "garden", "box/pot", "box"),
    ProbeSpec("box-core", Role.CORE, "garden", "box/core", "box"),
    ProbeSpec("shade", Role.AMBIENT, "garden", "ambient"),
    ProbeSpec("dish-pot", Role.POT, "garden", "dish/pot", "dish"),
    ProbeSpec("dish-core", Role.CORE, "garden", "dish/core", "dish"),
)


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of time that a curve is asked of."""

    since: datetime
    long: timedelta

    def query(self) -> dict[str, float]:
        """What to ask."""
        until_s = (self.since + self.long).timestamp()
        return {"since": self.since.timestamp(), "until": until_s, "points": 600}


@dataclass(frozen=True, slots=True)
class Page:
    """The process of the page, how to ask it, and its data file."""

    client: httpx.Client
    process: psutil.Process
    file: Path

    def busy_s(self) -> float:
        """Processor time so far."""
        spent = self.process.cpu_times()
        return float(spent.user + spent.system)

    def memory_mb(self) -> float:
        """Resident memory, in MB of 2^20 bytes."""
        return float(self.process.memory_info().rss / 2**20)


@dataclass(frozen=True, slots=True)
class Answers:
    """What a viewer waited for each answer [ms], what it took the process, and the last answer."""

    took_ms: list[float]
    busy_ms: float
    floor: list[Took]
    body: bytes


def readings(
    first: int, day: int, step_s: int, numbers: Sequence[int]
) -> Iterator[tuple[int, int]]:
    """Rows of one day: nine hours in the sun."""
    for second in range(0, COOK_S, step_s):
        tick = first + day * 86_400 + second
        value = int(16 * (20 + 100 * math.sin(math.pi * second / COOK_S)))
        for number in numbers:
            yield tick * SERIES + number, value + number


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


def ask(page: Page, long: Window, floor: Callable[[], object], *, cold: bool = False) -> Answers:
    """Ask for a curve some times, and each time do what is its floor."""
    took, bare, busy_ms, body = [], [], [], b""
    for _ in range(COLD_TIMES if cold else TIMES):
        if cold:
            forget(page.file)
        before_s = page.busy_s()
        begun_s = CLOCK.moment().mono_s
        body = page.client.get("/api/cookers/box/curve", params=long.query()).content
        took.append(1e3 * (CLOCK.moment().mono_s - begun_s))
        busy_ms.append(1e3 * (page.busy_s() - before_s))
        if cold:
            forget(page.file)
        bare.append(timed(floor))
    return Answers(took, statistics.mean(busy_ms), bare, body)


def forget(file: Path) -> None:
    """Have the kernel forget what it remembers of a file, as after a start of the machine."""
    with file.open("rb") as stream:
        os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def told(bar: Bar, answers: Answers) -> Figure:
    """The figure of a curve that was answered out of memory."""
    measured = Series(answers.took_ms, [answers.busy_ms])
    return Figure(bar, measured, series(bar, answers.floor), detail(answers))


def told_cold(bar: Bar, answers: Answers) -> Figure:
    """The figure of a curve that waits for the disk."""
    floor = Series(series(bar, answers.floor).values)
    return Figure(bar, Series(answers.took_ms), floor, detail(answers))


def detail(answers: Answers) -> str:
    """What the curve consists of."""
    curve = json.loads(answers.body)
    step = f"a round in {curve['every_s']} s" if curve["every_s"] else "all"
    return f"{len(curve['time'])} points of {step}"


def summed(db: sqlite3.Connection, window: Window) -> None:
    """The floor of a long curve: SQLite's own sum over all that was read in this time."""
    (first,) = db.execute("SELECT min(id) FROM reading").fetchone()
    begun = first + int((window.since - BEGIN).total_seconds()) * SERIES
    ended = begun + int(window.long.total_seconds()) * SERIES
    db.execute("SELECT sum(value) FROM reading WHERE id BETWEEN ? AND ?", (begun, ended)).fetchone()


def dumped(file: Path, answer: object) -> None:
    """The floor of a short curve: its answer read from a file, and made JSON once."""
    file.read_bytes()
    json.dumps(answer).encode()


def curves(page: Page, folder: Path) -> list[Figure]:
    """What curves take, the longest one also when nothing of the file is in memory."""
    cook = Window(BEGIN, timedelta(hours=9))
    body = page.client.get("/api/cookers/box/curve", params=cook.query()).content
    answer = folder / "answer.json"
    answer.write_bytes(body)
    month = Window(BEGIN + timedelta(days=30), timedelta(days=30))
    year = Window(BEGIN + timedelta(days=1), timedelta(days=DAYS))
    short = free("curve of a cook of 9 h at 5 s, 3 lines: the server", " ms", 1)
    with closing(sqlite3.connect(page.file)) as db:
        sum_month, sum_year = partial(summed, db, month), partial(summed, db, year)
        return [
            told(short, ask(page, cook, partial(dumped, answer, json.loads(body)))),
            told(free("curve of a month", " ms", 1), ask(page, month, sum_month)),
            told(YEAR, ask(page, year, sum_year)),
            told_cold(COLD_YEAR, ask(page, year, sum_year, cold=True)),
        ]


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


def live(page: Page, pipe: IO[bytes]) -> float:
    """Show states to everybody who looks, half a minute of two cookers at two states a second in
    each of two topics; returns the share of a core that the page took for it [%].
    """
    before_s, begun_s = page.busy_s(), CLOCK.moment().mono_s
    for number in range(STATES):
        state = {"time": "2026-06-03T07:00:00Z", "station": "garden", "number": number}
        for cooker in ("box", "dish"):
            line = json.dumps({"topic": f"{cooker}/now", "payload": state | {"text": "x" * 600}})
            pipe.write(line.encode() + b"\n")
        pipe.flush()
        CLOCK.wait(NEVER, 0.25)
    return 100 * (page.busy_s() - before_s) / (CLOCK.moment().mono_s - begun_s)


def bare_memory_mb() -> float:
    """The floor of memory: a process that has loaded the page's libraries."""
    done = subprocess.run([sys.executable, "-c", LOADED], check=True, capture_output=True)
    return int(done.stdout) / 1024


def measure(folder: Path) -> tuple[int, list[Figure]]:
    """Fill, serve, ask; returns how many readings there are, and the figures."""
    config, count = folder / "noonpot.toml", filled(folder)
    config.write_text(CONFIG, encoding="utf-8")
    port, begun = free_port(), threading.Semaphore(0)
    address = f"http://127.0.0.1:{port}"
    floor = once(bare_memory_mb())
    with ExitStack() as stack:
        begun_s = CLOCK.moment().mono_s
        popen = stack.enter_context(page_process(config, folder, port))
        until(lambda: listens(port), "the page is there")
        started_s = CLOCK.moment().mono_s - begun_s
        client = stack.enter_context(httpx.Client(base_url=address, timeout=60))
        page = Page(client, psutil.Process(popen.pid), folder / DATA_FILE)
        client.get("/api/station")
        quiet = page.memory_mb()
        for _ in range(VIEWERS):
            threading.Thread(target=watch, args=[address, begun], daemon=True).start()
        for _ in range(VIEWERS):
            begun.acquire()
        assert popen.stdin is not None
        share, looked = live(page, popen.stdin), page.memory_mb()
        figures = [
            Figure(
                free("memory of the page's process, nobody looks", " MB", 0), once(quiet), floor
            ),
            Figure(free(f"the same, {VIEWERS} look", " MB", 0), once(looked), floor),
            Figure(free("start to first answer", " s", 2), once(started_s)),
            Figure(
                free(f"share of one core, 8 states a second for {VIEWERS}", " %", 1), once(share)
            ),
            *curves(page, folder),
        ]
        figures.append(Figure(free("memory after that", " MB", 0), once(page.memory_mb()), floor))
        return count, figures


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, help="where to measure, for instance on the card")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as made:
        count, figures = measure(Path(made))
    print(
        section(
            "The page's server",
            figures,
            f"The file holds {count} readings. Times are a viewer's, over HTTP on loopback, to the "
            "last byte; processor time is that of the page's process, the mean of all answers.",
            "Floor of the short curve: the answer read from a file, and its numbers made JSON; no "
            "HTTP, no readings. Floor of the long ones: `SELECT sum(value)` over the same time. "
            "Floor of the memory: a process that has loaded the same libraries.",
            "Not in memory: the kernel was told to forget the file before each question. Then a "
            "year is read from thousands of places of the disk, which is what its time is.",
        )
    )


if __name__ == "__main__":
    main()
