"""A process that writes batch after batch and says each time which one is on the card."""

import sys
from itertools import count
from pathlib import Path

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.ports import Batch
from store.shelf import alert, opened, reading


def main(path: Path, first: int) -> None:
    """Write until killed: batch n holds reading n, event n and alert n."""
    clock = FakeClock(mono_s=1000 + 2 * first)
    clock.step_wall(2 * first)
    with opened(path, clock) as store:
        for number in count(first):
            now = clock.advance(2)
            event = Event("box", now.at, EventKind.NOTE, {"number": str(number)})
            batch = Batch([reading(now, number)], [event], alerts=[alert(str(number), now)])
            store.write(now, batch)
            print(number, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
