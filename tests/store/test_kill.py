"""The writer is killed at any moment, again and again; what it had acknowledged is there. More of
this, a thousand times and at any instant, is in tests/endurance/test_kills.py.
"""

import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from fakes import FakeClock
from noonpot.core.readings import Reading
from store.shelf import ENVIRONMENT, START, opened

CYCLES = 4
WRITER = Path(__file__).with_name("writer.py")


def write_and_be_killed(path: Path, first: int, after: int) -> int:
    """The last batch the writer acknowledged; it was killed while it went on writing."""
    command = [sys.executable, str(WRITER), str(path), str(first)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT) as writer:
        assert writer.stdout is not None
        acknowledged = [writer.stdout.readline() for _ in range(after)]
        writer.kill()
        acknowledged += writer.stdout.readlines()
    whole = [line for line in acknowledged if line.endswith("\n")]
    assert len(whole) >= after, "the writer ended by itself"
    return int(whole[-1])


def test_nothing_acknowledged_is_lost_by_kill_9_and_no_batch_is_there_in_part(
    tmp_path: Path,
) -> None:
    """A kill keeps what the system has cached: this is no proof for a power cut."""
    seed = random.randrange(10**6)
    print("seed", seed)
    chance = random.Random(seed)
    path = tmp_path / "noonpot.db"
    first, killed_in_between = 0, 0
    for _ in range(CYCLES):
        last = write_and_be_killed(path, first, chance.randrange(1, 120))
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
        with opened(path, FakeClock(START)) as store:
            back = store.samples_of("box-pot", START, START + timedelta(days=1))
            readings = [s.value for s in back if isinstance(s, Reading)]
            events = store.events_of("box", START, START + timedelta(days=1))
            alerts = store.unsent("mqtt", 100_000)
        written = len(readings)
        assert readings == list(range(written))
        assert [event.detail["number"] for event in events] == [str(n) for n in range(written)]
        assert [alert.id for alert in alerts] == [str(n) for n in range(written)]
        assert written - 1 in (last, last + 1), "the batch in hand may be there or not, as a whole"
        killed_in_between += written - 1 != last
        first = written
    print(f"{first} batches, {killed_in_between} of {CYCLES} killed between commit and word of it")
