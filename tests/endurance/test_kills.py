"""kill -9 at any instant, a thousand times: what was acknowledged is there, once.

A kill keeps what the system has cached; for a power cut see test_power_cut.py.
"""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import IO

from endurance.extent import FULL, Tell, chance
from endurance.rounds_writer import CHANNEL, clock_at, rounds_in
from noonpot.store.mending import sound
from store.shelf import ENVIRONMENT

KILLS, LONGEST_S = (1000, 0.4) if FULL else (10, 0.1)
EACH = 50
"""Kills after which a new file is begun: to look through all rounds takes longer and longer."""
NURSERY = Path(__file__).with_name("nursery.py")
NEVER = threading.Event()


@contextmanager
def nursery() -> Iterator[tuple[IO[str], IO[str]]]:
    """Its input and its output."""
    command = [sys.executable, str(NURSERY)]
    environment = {**ENVIRONMENT, "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
    ) as mother:
        assert mother.stdin is not None
        assert mother.stdout is not None
        yield mother.stdin, mother.stdout
        mother.stdin.close()


def lived(lines: tuple[IO[str], IO[str]], path: Path, dice: random.Random) -> Counter[str]:
    """One writer, killed at some instant of its life, or of that after its first word; what it said
    last of each thing.
    """
    asks, answers = lines
    asks.write(f"{path}\n")
    asks.flush()
    born, child = answers.readline().split()
    assert born == "born"
    said = Counter[str]()
    if dice.random() < 0.5:
        what, number = answers.readline().split()
        said[what] = int(number)
    NEVER.wait(dice.uniform(0.0, LONGEST_S))
    os.kill(int(child), signal.SIGKILL)
    while (line := answers.readline()) != "gone\n":
        assert line, "the mother is gone"
        what, number = line.split()
        said[what] = int(number)
    return said


def test_nothing_acknowledged_is_lost_or_doubled_by_kill_9_at_any_instant(
    tmp_path: Path, figure: Tell
) -> None:
    dice, outcomes, rounds = chance(), Counter[str](), 0
    path, there, settled = tmp_path / "0" / "noonpot.db", 0, 0
    with nursery() as lines:
        for kill in range(KILLS):
            if kill % EACH == 0:
                path, there, settled = tmp_path / f"{kill}" / "noonpot.db", 0, 0
                path.parent.mkdir()
            said = lived(lines, path, dice)
            told = max(there, said["rounds"])
            settled = max(settled, said["settled"])
            with closing(sqlite3.connect(path)) as db:
                assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
            if not path.stat().st_size:
                assert told == 0
                path.unlink()
                outcomes["killed before anything was written"] += 1
                continue
            with sound(path, clock_at(told + 100)) as store:
                count = rounds_in(store)
                waiting = [int(a.id) for a in store.unsent(CHANNEL, count + 10)]
            assert count in (told, told + 1), f"kill {kill}: {told} acknowledged, {count} there"
            assert waiting in (list(range(settled, count)), list(range(settled + 1, count)))
            settled = count - len(waiting)
            rounds += count - there
            how = "while it waited for the card" if count > told else "at another instant"
            outcomes[f"killed {how}" if said else "killed before its first word"] += 1
            there = count
    print(*(f"{count:5} {what}" for what, count in sorted(outcomes.items())), sep="\n")
    figure(
        1,
        f"{KILLS} times kill -9 of a writer, {rounds} rounds of 6 readings",
        "0 lost, 0 doubled, quick_check ok each time",
        "0, 0, ok",
    )
    assert rounds >= KILLS // 4
