"""What many stations cost: python tests/bench/fleet_cost.py [--stations 50] [--minutes 10]

Played stations with two cookers each, told by the program's own payloads and its own connections
with their last wills, all in one process; a real mosquitto; ``noonpot stations`` as a watch and as
a page with one viewer; and a real time-series server that gets what such stations measure. A minute
of the stations takes 6 s; processor time is told as it would be at life's pace.
"""

import argparse
import json
import os
import platform
import random
import subprocess
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from urllib.request import Request, urlopen

from broker import Broker
from fleet.parts import CLOCK, TESTS, Page, Part, ended, pid_at, program, told, until
from fleet.play import Played
from noonpot.fleet.gallery import MOST_LINES
from noonpot.uplink.client import line
from uplink.victoria import Victoria

MINUTE_S = 6.0
MB = 2**20
PROBES = (  # of a station with two cookers
    ("box-pot", "pot", "box"),
    ("box-core", "core", "box"),
    ("dish-pot", "pot", "dish"),
    ("dish-core", "core", "dish"),
    ("shade", "ambient", ""),
    ("sky", "irradiance", ""),
)
READ_EVERY_S = 2
AT_ONCE = 500  # points in one write, as the uplink sends them
STAGE = TESTS / "fleet" / "stage.py"

OF_ONE = 250  # stations of one process: paho waits with select(), which knows 1024 sockets

Rows = list[tuple[str, str]]
Sent = Counter[str]  # messages by kind, and their bytes


@dataclass(frozen=True)
class Point:
    """One value, as the uplink wants it."""

    measurement: str
    tags: Mapping[str, str]
    fields: Mapping[str, float | str]
    at_ms: int = 1


class Show:
    """Stations, their broker, and who looks at them."""

    def __init__(self, stations: int, minutes: int, folder: Path, stack: ExitStack) -> None:
        self._stack = stack
        self._folder = folder
        self.stations, self.minutes = stations, minutes
        self.plays = [Played(number) for number in range(stations)]
        self.broker = stack.enter_context(Broker(folder / "broker", "allow_anonymous true"))
        self.post = Part("broker (mosquitto)", pid_at(self.broker.port))
        self.empty_mb = self.post.memory_mb()
        port = str(self.broker.port)
        self.where = ("-m", "noonpot", "stations", "--broker", f"127.0.0.1:{port}")
        self.stages = [
            self._stage(port, first, min(OF_ONE, stations - first))
            for first in range(0, stations, OF_ONE)
        ]
        self.begun = self._told()
        self.kept_mb = self.post.memory_mb()

    @property
    def stored(self) -> int:
        """How many messages the broker had in store at the start: also a status of each."""
        return self.begun.total() - self.begun["bytes"] + self.stations

    def page(self) -> tuple[Page, Part]:
        """The page, once it has heard all that is in store."""
        words = (*self.where, "--page", "--port", "0")
        process = self._stack.enter_context(ended(program(*words, stdout=subprocess.PIPE)))
        assert process.stdout is not None
        page = Page(process.stdout.readline().decode().split()[-1])
        until(page.answers, "the page is served")
        until(lambda: page.count("heard") >= self.stored, "the page has heard all of the store")
        threading.Thread(target=page.look, daemon=True).start()
        return page, Part("noonpot stations --page", process.pid)

    def watch(self) -> Part:
        """A watch, once it has told all."""
        file = self._folder / "watch"
        log = self._stack.enter_context(file.open("wb"))
        process = self._stack.enter_context(
            ended(program(*self.where, "--watch", "--json", stdout=log))
        )

        def complete() -> bool:
            whole = file.read_bytes().rpartition(b"\n")[0].splitlines()
            said = [json.loads(one) for one in whole]
            seen = {(s["station"], s["cooker"]) for s in said if s["pot_c"] is not None}
            return len(seen) == 2 * self.stations

        until(complete, "the watch has told all")
        return Part("noonpot stations --watch", process.pid)

    def play(self) -> Sent:
        """Let the minutes pass; what was sent in them."""
        for stage in self.stages:
            assert stage.stdin is not None
            stage.stdin.write(b"\n")
            stage.stdin.flush()
        return self._told() - self.begun

    def _stage(self, port: str, first: int, count: int) -> "subprocess.Popen[bytes]":
        words = (str(STAGE), port, str(first), str(count), str(self.minutes), str(MINUTE_S))
        pipe = subprocess.PIPE
        return self._stack.enter_context(ended(program(*words, stdin=pipe, stdout=pipe)))

    def _told(self) -> Sent:
        """What all stages have sent so far."""
        said = [told(stage.stdout) for stage in self.stages]
        return sum((Counter(one["sent"]) + Counter(bytes=one["bytes"]) for one in said), Counter())

    def right(self) -> dict[str, float]:
        """The last temperature of every pot."""
        return {f"{p.name}/{c}": p.pot_c(c, self.minutes) for p in self.plays for c in p.cookers}

    def once(self) -> tuple[float, dict[str, float]]:
        """How long a single look takes, and which pots it shows."""
        begun_s = CLOCK.moment().mono_s
        asked = program(*self.where, "--json", stdout=subprocess.PIPE)
        said = json.loads(asked.communicate(timeout=120)[0])
        pots = {f"{s['station']}/{s['cooker']}": s["pot_c"] for s in said["lines"] if s["cooker"]}
        return CLOCK.moment().mono_s - begun_s, pots


def list_cost(stations: int, minutes: int, folder: Path) -> Rows:
    """Play, look, and count."""
    with ExitStack() as stack:
        show = Show(stations, minutes, folder, stack)
        begun_s = CLOCK.moment().mono_s
        page, served = show.page()
        replay_s = CLOCK.moment().mono_s - begun_s
        stages = [Part("publisher", stage.pid) for stage in show.stages]
        parts = [show.post, show.watch(), served]
        for part in parts:
            part.begin()
        begun_s, bytes_before = CLOCK.moment().mono_s, page.bytes
        played = show.play()
        took_s = CLOCK.moment().mono_s - begun_s
        used = {part.name: part.used_s() for part in parts}
        kinds = {kind: count for kind, count in played.items() if kind != "bytes"}
        sent = sum(kinds.values())
        expected = show.stored + sent
        until(lambda: page.count("heard") >= expected, "the page has heard all")
        until(lambda: page.sees(show.right()), "the viewer sees the last minute")
        once_s, pots = show.once()
        rows = [
            ("messages in these minutes", f"{sent:,}: {_kinds(kinds)}"),
            ("at life's pace", f"{sent / minutes / 60:.1f} messages/s"),
            ("size", f"{played['bytes'] / sent:,.0f} bytes, on average"),
            ("in store at the broker at the start", f"{show.stored:,} messages"),
            ("heard by the page", f"{page.count('heard'):,} of {expected:,}"),
            ("shown by the page", f"{page.count('shown'):,} of {expected:,}"),
            ("last value shown", f"{_equal(pots, show.right())} of {2 * stations} cookers"),
            ("start of the page until all of the store is heard", f"{replay_s:.1f} s"),
            ("noonpot stations, once", f"{once_s:.1f} s"),
            ("to one viewer", f"{(page.bytes - bytes_before) / minutes / 60 / 1024:.1f} KB/s"),
            ("broker, empty", f"{show.empty_mb:.1f} MB"),
            ("broker, all connected and in store", f"{show.kept_mb:.1f} MB"),
        ]
        faster = minutes * 60 / took_s
        for part in parts:
            share = 100 * used[part.name] / took_s / faster
            each_us = 1e6 * used[part.name] / sent
            text = f"{part.memory_mb():.1f} MB, {share:.2f} % of a core, {each_us:.0f} µs a message"
            rows.append((part.name, text))
        publishers_mb = sum(stage.memory_mb() for stage in stages)
        rows.append(("publishers of all stations", f"{publishers_mb:.0f} MB"))
        for stage in show.stages:
            stage.kill()
        killed_s = CLOCK.moment().mono_s
        lines = min(2 * stations, MOST_LINES)
        until(lambda: page.dark() == lines, "all last wills are shown")
        rows.append(("killed until all are offline", f"{CLOCK.moment().mono_s - killed_s:.1f} s"))
    return rows


def _equal(one: Mapping[str, float], other: Mapping[str, float]) -> int:
    return sum(one.get(key) == value for key, value in other.items())


def _kinds(sent: Mapping[str, int]) -> str:
    return ", ".join(f"{count:,} {kind}" for kind, count in sorted(sent.items()))


def measured(stations: int, minutes: int) -> Iterator[str]:
    """What all stations measure in some minutes, in line protocol: values that wander by the steps
    of a DS18B20, oldest first.
    """
    begin_ms = int(CLOCK.moment().at.timestamp() * 1000) - minutes * 60_000
    chance = random.Random(1)
    heads, values = [], []
    for number in range(stations):
        for probe, role, cooker in PROBES:
            light = role == "irradiance"
            tags = {"probe": probe, "role": role} | ({"cooker": cooker} if cooker else {})
            name, unit = ("irradiance", "w_per_m2") if light else ("temperature", "celsius")
            text = line(Point(name, tags, {unit: 1.5}), Played(number).name)
            heads.append(text.rpartition("1.5 ")[0])
            values.append(700.0 if light else 60.0)
    for second in range(0, minutes * 60, READ_EVERY_S):
        for place, head in enumerate(heads):
            values[place] += chance.choice((-0.0625, 0, 0, 0, 0, 0.0625))
            yield f"{head}{values[place]} {begin_ms + second * 1000}"


def server_cost(stations: int, minutes: int, folder: Path) -> Rows:
    """Write what they measure into a time-series server, as fast as it takes it."""
    with Victoria(folder / "victoria") as server:
        part = Part("victoria-metrics", pid_at(server.port))
        part.begin()
        begun_s, count = CLOCK.moment().mono_s, 0
        lines = measured(stations, minutes)
        while batch := list(islice(lines, AT_ONCE)):
            count += _written(server, batch)
        took_s = CLOCK.moment().mono_s - begun_s
        server.points("nothing")  # flushes
        used_s, memory_mb = part.used_s(), part.memory_mb()
    rate = stations * len(PROBES) / READ_EVERY_S
    kept = {name: _size(folder / "victoria" / "data" / name) for name in ("data", "indexdb")}
    return [
        ("points", f"{count:,} of {stations * len(PROBES):,} probes"),
        ("at life's pace", f"{rate:,.0f} points/s"),
        ("from one writer, as fast as it goes", f"{count / took_s:,.0f} points/s"),
        (part.name, f"{memory_mb:.0f} MB, {1e6 * used_s / count:.1f} µs a point"),
        ("processor at life's pace", f"{100 * used_s / count * rate:.2f} % of a core"),
        ("values on disk", f"{kept['data'] / count:.2f} bytes a point"),
        ("index on disk", f"{kept['indexdb'] / MB:.2f} MB"),
    ]


def _size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def _written(server: Victoria, batch: Sequence[str]) -> int:
    address = f"{server.url}/api/v2/write?precision=ms"
    request = Request(address, "\n".join(batch).encode(), method="POST")  # noqa: S310  our own
    urlopen(request, timeout=30).close()  # noqa: S310
    return len(batch)


def main() -> None:
    """Measure and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stations", type=int, default=50)
    parser.add_argument("--minutes", type=int, default=10)
    parser.add_argument("--points-minutes", type=int, default=30)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        tables = {
            f"Broker and list, {asked.stations} stations, {asked.minutes} minutes": list_cost(
                asked.stations, asked.minutes, folder
            ),
            f"Time-series server, {asked.stations} stations, {asked.points_minutes} minutes": (
                server_cost(asked.stations, asked.points_minutes, folder)
            ),
        }
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    for title, rows in tables.items():
        print(f"\n{title}\n\n| figure | measured |\n|---|---|")
        for name, value in rows:
            print(f"| {name} | {value} |")


if __name__ == "__main__":
    main()
