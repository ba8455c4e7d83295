"""A process that bears writers, one after the other: all has been imported when they are born, so a
thousand of them live and die in minutes.

It reads the path of a data file from each line of its input, and says ``born`` with the number of
the process and ``gone`` when that has ended. The writer opens the file, goes on where it ends, and
says after each round how many are there and after each settling how many alerts are settled.
"""

import os
import sys
from pathlib import Path

from endurance.rounds_writer import CHANNEL, STEP_S, batch, clock_at, rounds_in
from noonpot.store.mending import sound
from store.shelf import PROBES

OFTEN, SELDOM = 7, 60


def say(*words: object) -> None:
    """One line, whole or not at all: it is shorter than a pipe writes at once."""
    os.write(sys.stdout.fileno(), f"{' '.join(map(str, words))}\n".encode())


def write(path: Path) -> None:
    """Write rounds until killed; end properly and begin again every now and then."""
    with sound(path, clock_at(0)) as store:
        first = rounds_in(store)
        waiting = store.unsent(CHANNEL, 1)
        settled = int(waiting[0].id) if waiting else first
    while True:
        clock = clock_at(first)
        with sound(path, clock) as store:
            store.register(PROBES)
            store.begin()
            for number in range(first, first + SELDOM):
                now = clock.advance(STEP_S)
                store.write(now, batch(number, now))
                say("rounds", number + 1)
                while settled < (number + 1) // OFTEN:
                    store.settle(CHANNEL, str(settled), "sent")
                    settled += 1
                    say("settled", settled)
            store.end()
        first += SELDOM


def main() -> None:
    """Bear one writer for each line."""
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            write(Path(line.strip()))
        say("born", child)
        os.waitpid(child, 0)
        say("gone")


if __name__ == "__main__":
    main()
