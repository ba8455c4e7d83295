"""``noonpot`` in a process of its own, its SPI devices being plain files and its threads named."""

import sys
import threading
from pathlib import Path

import pytest

from hw.spi import SpiBench


def name_threads() -> None:
    """Let the system, too, know threads by their names: a test freezes one of them."""
    run = threading.Thread.run

    def named(thread: threading.Thread) -> None:
        Path(f"/proc/self/task/{threading.get_native_id()}/comm").write_text(thread.name[:15])
        run(thread)

    setattr(threading.Thread, "run", named)  # noqa: B010  the checker minds an assignment


if __name__ == "__main__":
    name_threads()
    SpiBench(Path(sys.argv.pop(1))).install(pytest.MonkeyPatch())
    from noonpot.cli import main

    main()
