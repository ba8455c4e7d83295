"""A process that brings a data file up to date, and is killed at a step of SQLite or after a time;
left in peace it says how many steps that takes.
"""

import os
import signal
import sys
from pathlib import Path

from noonpot.store.connection import lock, open_to_write
from noonpot.store.migrations import migrate

AT = "2026-11-30T07:00:00Z"


def main(path: Path, step: int, after_us: int) -> None:
    """Kill at this step, after so many microseconds, or not at all for 0 and 0."""
    counted = 0

    def count() -> int:
        nonlocal counted
        counted += 1
        if counted == step:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    with lock(path):
        db = open_to_write(path)
        db.set_progress_handler(count, 1)
        if after_us:  # nobody handles this signal, so it ends the process at once
            signal.setitimer(signal.ITIMER_REAL, after_us / 1e6)
        migrate(db, AT)
        print(counted)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
