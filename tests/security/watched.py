"""What the processes of a station were started with, as everybody on the machine may see it."""

import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

LOOK_S = 0.02  # the shortest of the helpers lives ten times as long


class Watched:
    """All that every process of a station was started with, looked up again and again."""

    def __init__(self, pid: int) -> None:
        self.seen: dict[str, str] = {}
        self._pid = pid
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def close(self) -> None:
        self._stop.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._stop.wait(LOOK_S):
            for pid in family(self._pid):
                with suppress(OSError):
                    told = [Path(f"/proc/{pid}/{f}").read_bytes() for f in ("cmdline", "environ")]
                    command, around = (each.decode(errors="replace") for each in told)
                    self.seen[command.replace("\0", " ")] = around.replace("\0", "\n")


def family(pid: int) -> Iterator[int]:
    """A process and all that came of it, as the kernel tells: cheap enough to ask often."""
    yield pid
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with suppress(OSError):
            for child in task.read_text().split():
                yield from family(int(child))
