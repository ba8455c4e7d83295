"""``noonpot`` in a process of its own, its SPI devices being plain files."""

import sys
from pathlib import Path

import pytest

from hw.spi import SpiBench

if __name__ == "__main__":
    SpiBench(Path(sys.argv.pop(1))).install(pytest.MonkeyPatch())
    from noonpot.cli import main

    main()
