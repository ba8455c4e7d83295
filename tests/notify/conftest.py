"""A running broker for each test that asks for one."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import Broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """A broker that lets everybody in."""
    with Broker(tmp_path / "broker") as running:
        yield running
