"""A process that pushes to a server, and is killed after the write and before its cursor moves."""

import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path

from fakes import FakeClock
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import Uplink
from uplink.victoria import Victoria


class Mortal(Store):
    """A store that does not live to hear that the points were delivered."""

    def delivered(self, sink: str, refused: Sequence[tuple[str, str]] = ()) -> None:  # noqa: ARG002
        os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    clock = FakeClock()
    server = Victoria(Path(), int(sys.argv[2]))
    Uplink(Mortal(Path(sys.argv[1]), clock), server, "garden", clock).push()
