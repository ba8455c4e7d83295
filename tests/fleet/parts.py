"""What the bench of many stations watches: processes with their memory and processor time, and a
page with its viewer.
"""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any
from urllib.request import urlopen

from noonpot.clock import SystemClock
from noonpot.fleet.gallery import MOST_LINES

CLOCK = SystemClock()
TESTS = Path(__file__).parents[1]
TICKS_S = 1 / os.sysconf("SC_CLK_TCK")
PATIENCE_S = 120.0

Lines = dict[str, dict[str, Any]]


def until(condition: Callable[[], bool], what: str) -> None:
    """Look again and again, at most two minutes: many stations take their time."""
    begun_s, never = CLOCK.moment().mono_s, threading.Event()
    while not condition():
        if CLOCK.moment().mono_s - begun_s > PATIENCE_S:
            raise AssertionError(f"not within {PATIENCE_S:.0f} s: {what}")
        CLOCK.wait(never, 0.05)


@dataclass
class Part:
    """One process that is watched. Memory is VmRSS in MB of 2^20 bytes, and processor time that of
    all its threads, in and out of the kernel; both are the kernel's own count.
    """

    name: str
    pid: int
    _begun_s: float = 0.0

    def begin(self) -> None:
        """From now on its processor time counts."""
        self._begun_s = self._processor_s()

    def used_s(self) -> float:
        """Processor time since then."""
        return self._processor_s() - self._begun_s

    def memory_mb(self) -> float:
        """What it has in memory now."""
        lines = Path("/proc", str(self.pid), "status").read_text().splitlines()
        return next(int(one.split()[1]) for one in lines if one.startswith("VmRSS:")) / 1024

    def _processor_s(self) -> float:
        fields = Path("/proc", str(self.pid), "stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) * TICKS_S


def program(*words: str, **options: Any) -> "subprocess.Popen[bytes]":
    """A Python program that finds our tests."""
    environment = os.environ | {"PYTHONPATH": str(TESTS), "PYTHONUNBUFFERED": "1"}
    return subprocess.Popen([sys.executable, *words], env=environment, **options)


@contextmanager
def ended(process: "subprocess.Popen[bytes]") -> Iterator["subprocess.Popen[bytes]"]:
    """The process is ended whatever happens."""
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def pid_at(port: int) -> int:
    """Which process listens on a port of this machine."""
    table = Path("/proc/net/tcp").read_text().splitlines()[1:]
    fields = [line.split() for line in table]
    inode = next(f[9] for f in fields if f[1].endswith(f":{port:04X}") and f[3] == "0A")
    for link in Path("/proc").glob("[0-9]*/fd/*"):
        try:
            if str(link.readlink()) == f"socket:[{inode}]":
                return int(link.parts[2])
        except OSError:
            continue
    raise LookupError(f"nobody listens on port {port}")


def told(stream: IO[bytes] | None) -> dict[str, Any]:
    """The next line that a process says."""
    assert stream is not None
    said = json.loads(stream.readline())
    assert isinstance(said, dict)
    return said


@dataclass
class Page:
    """The page's own account, and what a viewer gets to see."""

    address: str
    bytes: int = 0
    lines: Lines = field(default_factory=dict)
    order: list[str] = field(default_factory=list)

    def answers(self) -> bool:
        """Whether it is served."""
        try:
            return bool(self.whole())
        except OSError:
            return False

    def whole(self) -> dict[str, Any]:
        """Everything that it shows."""
        with urlopen(f"{self.address}/api/stations", timeout=30) as answer:  # noqa: S310  our own
            shown = json.loads(answer.read())
        assert isinstance(shown, dict)
        return shown

    def count(self, what: str) -> int:
        """How many messages it has heard, or shown."""
        return int(self.whole()["counts"].get(what, 0))

    def dark(self) -> int:
        """How many of its lines are offline."""
        return sum(one["state"] == "offline" for one in self.whole()["lines"].values())

    def sees(self, right: dict[str, float]) -> bool:
        """Whether every cooker that the viewer is shown has the right temperature."""
        shown = {key: self.lines[key] for key in self.order if key in self.lines}
        return len(shown) == min(len(right), MOST_LINES) and all(
            one["pot_c"] == right[key] for key, one in shown.items()
        )

    def look(self) -> None:
        """Follow the live stream until it ends."""
        try:
            with urlopen(f"{self.address}/api/live", timeout=60) as stream:  # noqa: S310  our own
                for raw in stream:
                    self.bytes += len(raw)
                    if raw.startswith(b"data:"):
                        said = json.loads(raw[5:])
                        self.lines |= said["lines"]
                        self.order = said.get("order", self.order)
        except (OSError, ValueError):
            return
