"""A process that is measured from outside: the kernel's own count of its memory and its time."""

import os
import resource
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from noonpot.clock import SystemClock

TICKS_S = 1 / os.sysconf("SC_CLK_TCK")
PATIENCE_S = 180.0
CLOCK = SystemClock()


class Process:
    """A program in a process group of its own; what it says goes into a ``log``."""

    def __init__(self, command: Sequence[str | Path], log: Path) -> None:
        self.started = CLOCK.moment()
        with log.open("wb") as file:
            self._process = subprocess.Popen(
                command, stdout=file, stderr=file, start_new_session=True
            )
        self._proc = Path("/proc", str(self._process.pid))

    def age_s(self) -> float:
        """How long ago it was started."""
        return CLOCK.moment().mono_s - self.started.mono_s

    def processor_s(self) -> float:
        """Processor time of all its threads so far, in and out of the kernel."""
        fields = (self._proc / "stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) * TICKS_S

    def memory_mb(self, file: str = "status", key: str = "VmRSS") -> float:
        """A line of status or smaps_rollup."""
        lines = (self._proc / file).read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith(f"{key}:")) / 1024

    def end(self) -> None:
        """End it and a helper it may have, as the service manager does."""
        os.killpg(self._process.pid, signal.SIGTERM)
        self._process.wait(10)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()


def patiently(condition: Callable[[], bool], what: str) -> None:
    """Look again and again, for minutes: a machine that does much else may be slow."""
    pause, begun_s = threading.Event(), CLOCK.moment().mono_s
    while not condition():
        if CLOCK.moment().mono_s - begun_s > PATIENCE_S:
            raise RuntimeError(f"not within {PATIENCE_S:.0f} s: {what}")
        CLOCK.wait(pause, 0.02)


@dataclass(frozen=True, slots=True)
class Took:
    """How long something took, and how much of that a processor worked for it [s]."""

    whole_s: float
    busy_s: float


def timed(work: Callable[[], object]) -> Took:
    """Do some work in this thread."""
    begun_s, idle_s = CLOCK.moment().mono_s, time.thread_time()
    work()
    return Took(CLOCK.moment().mono_s - begun_s, time.thread_time() - idle_s)


def run(command: Sequence[str | Path], **environment: str) -> Took:
    """Run a program to its end, with all its children. Raises RuntimeError when it fails."""
    before, begun_s = _children_s(), CLOCK.moment().mono_s
    done = subprocess.run(
        command, check=False, capture_output=True, env={**os.environ, **environment}
    )
    whole_s = CLOCK.moment().mono_s - begun_s
    if done.returncode != 0:
        said = done.stderr.decode(errors="replace")
        raise RuntimeError(f"{command[1:]} ended with {done.returncode}: {said}")
    return Took(whole_s, _children_s() - before)


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
