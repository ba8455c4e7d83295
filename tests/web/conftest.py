"""A station with a page, for every test of this folder."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from web.homes import Home, home_in


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    with home_in(tmp_path) as made:
        yield made
