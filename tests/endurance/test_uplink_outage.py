"""A time-series server that is away for a day, on a bad road, while the station that serves it is
killed again and again: in the end it has what the store has, each row once.
"""

import os
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from endurance.extent import FULL, Tell, chance
from endurance.uplink_gate import BACK, Gate
from endurance.uplink_truth import Copy, differences, quarantined, rows_in, truth
from store.shelf import ENVIRONMENT
from uplink.victoria import Victoria

OUTAGE_S = 24 * 3600.0
AFTER_S = 1800.0
# Seconds between two writes to the file, rounds of readings in one, one line of so many is bad.
WRITE_S, ROUNDS, BAD_OF = (10.0, 5, 2003) if FULL else (600.0, 1, 307)
KILLS = 10 if FULL else 2
STATION = Path(__file__).with_name("uplink_station.py")
WARM_S = 1800.0
MOST_GROWTH_KB = 5 * 1024
PAUSE = threading.Event()


@dataclass
class Trial:
    """Lives of one station on one file, and what they said."""

    path: Path
    gate: Gate
    mother: "subprocess.Popen[str]"
    lives: int = 0
    grown_kb: int = 0
    said: list[str] = field(default_factory=list)

    def live(self, until_s: float | None, dice: random.Random) -> bool:
        """One life, killed at some instant after so much of the simulated time has gone by, or in
        time for the next life. True when it came to its end by itself.
        """
        assert self.mother.stdin is not None
        file, port = self.path, self.gate.port
        record_s = OUTAGE_S + AFTER_S
        self.mother.stdin.write(f"{file} {port} {WRITE_S} {ROUNDS} {record_s}\n")
        self.mother.stdin.flush()
        self.lives += 1
        born, child = self._line()
        assert born == "born"
        first_s = warm_kb = None
        while (words := self._line())[0] not in ("done", "gone"):
            late_s, memory_kb = float(words[0]), int(words[1])
            first_s = late_s if first_s is None else first_s
            if late_s > OUTAGE_S:
                self.gate.odds = BACK
            if late_s > first_s + WARM_S:
                warm_kb = memory_kb if warm_kb is None else warm_kb
                self.grown_kb = max(self.grown_kb, memory_kb - warm_kb)
            if until_s is not None and late_s >= until_s:
                PAUSE.wait(dice.uniform(0, 0.1))
                os.kill(int(child), signal.SIGKILL)
                until_s = None
        if words[0] == "done":
            assert self._line() == ["gone"]
            return True
        return False

    def _line(self) -> list[str]:
        assert self.mother.stdout is not None
        line = self.mother.stdout.readline()
        assert line, "the mother process ended"
        return line.split()


@contextmanager
def stations() -> Iterator["subprocess.Popen[str]"]:
    """The process that bears them."""
    environment = {**ENVIRONMENT, "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        [sys.executable, str(STATION)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as mother:
        yield mother
        assert mother.stdin is not None
        mother.stdin.close()


@pytest.mark.parametrize("kills", [KILLS, 0] if FULL else [KILLS])
def test_after_a_day_of_outage_the_server_has_all_that_the_store_has(
    tmp_path: Path, figure: Tell, kills: int
) -> None:
    dice = chance()
    path = tmp_path / "noonpot.db"
    with (
        stations() as mother,
        Victoria(tmp_path / "victoria") as server,
        Gate(server.port, dice, BAD_OF) as gate,
    ):
        trial = Trial(path, gate, mother)
        # Most in the outage, and some while the server is brought up to date.
        late = kills * 3 // 10 or min(kills, 1)
        instants = [dice.uniform(0, OUTAGE_S) for _ in range(kills - late)]
        instants += [OUTAGE_S + dice.uniform(0, AFTER_S / 2) for _ in range(late)]
        for until_s in sorted(instants):
            assert not trial.live(until_s, dice), "it was killed"
        assert trial.live(None, dice), "it has nothing left to send"
        found: Copy = {}
        for measurement in ("temperature", "irradiance", "event", "forecast"):
            found |= server.points(measurement)
    aside = quarantined(path)
    wrong = differences(truth(path), found)
    rows = rows_in(path)
    assert wrong == [], f"{len(wrong)} rows differ, the first: {wrong[:5]}"
    assert all(gate.is_bad(line) for line in aside)
    assert min(rows.values()) > 100
    assert trial.grown_kb < MOST_GROWTH_KB
    figure(
        9,
        f"24 h away, {kills} kills, "
        + ", ".join(f"{number} {what}" for what, number in sorted(gate.told.items())),
        ", ".join(f"{number} {what}s" for what, number in rows.items())
        + f" equal, {len(aside)} bad ones named, memory +{trial.grown_kb / 1024:.1f} MB",
        "all equal, < 5 MB",
    )
