"""The copy on a real time-series server equals the store, whatever happens on the way."""

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Event, EventKind
from noonpot.errors import UplinkError
from noonpot.ports import Batch
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import Progress, Uplink
from store.shelf import ENVIRONMENT, opened, reading, write_reading
from uplink.victoria import Series, Victoria

POT: Series = (
    ("__name__", "temperature_celsius"),
    ("cooker", "box"),
    ("probe", "box-pot"),
    ("role", "pot"),
    ("station", "garden"),
)

LID_COUNT: Series = (
    ("__name__", "event_count"),
    ("cooker", "box"),
    ("kind", "lid"),
    ("station", "garden"),
)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as store:
        yield store


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Victoria]:
    with Victoria(tmp_path / "victoria") as server:
        yield server


@contextmanager
def uplink(store: Store, server: Victoria, clock: FakeClock) -> Iterator[Uplink]:
    link = Uplink(store, server, "garden", clock)
    try:
        yield link
    finally:
        link.close()


def fill(store: Store, clock: FakeClock, rounds: int) -> dict[str, dict[int, float]]:
    """Write rounds of three probes; returns what a server should have: value by time, by probe."""
    truth: dict[str, dict[int, float]] = {"box-pot": {}, "box-core": {}, "sky": {}}
    for number in range(rounds):
        now = clock.advance(2)
        values = {"box-pot": 20 + number / 16, "box-core": 20 - number / 16, "sky": 500.0 + number}
        store.write(now, Batch([reading(now, value, name) for name, value in values.items()]))
        for name, value in values.items():
            truth[name][int(now.at.timestamp() * 1000)] = value
    return truth


def copy(server: Victoria) -> dict[str, dict[int, float]]:
    """What the server has, by probe."""
    found = server.points("temperature") | server.points("irradiance")
    return {dict(tags)["probe"]: points for tags, points in found.items()}


def push_all(link: Uplink) -> list[Progress]:
    """Push while more waits."""
    steps = [link.push()]
    while steps[-1].next_try_s == 0:
        steps.append(link.push())
    return steps


def test_all_rows_arrive_equal(store: Store, server: Victoria, clock: FakeClock) -> None:
    truth = fill(store, clock, 450)
    lid = Event("box", clock.moment().at, EventKind.LID, {"text": 'a look, and a "smell"\n'})
    store.write(clock.moment(), Batch(events=[lid, lid]))
    with uplink(store, server, clock) as link:
        steps = push_all(link)
    assert [(step.sent, step.behind) for step in steps] == [(500, 852), (500, 352), (352, 0)]
    assert [step.problem for step in steps] == ["", "", ""]
    assert copy(server) == truth
    assert POT in server.points("temperature")
    assert list(server.points("event")[LID_COUNT].values()) == [1, 1]


def test_a_server_that_was_away_gets_everything_when_it_is_back(
    store: Store, server: Victoria, clock: FakeClock
) -> None:
    truth = fill(store, clock, 100)
    with uplink(store, server, clock) as link:
        assert push_all(link)[-1].behind == 0
        server.stop()
        for name, points in fill(store, clock, 200).items():
            truth[name] |= points
        waits = []
        for _ in range(10):
            step = link.push()
            assert step.sent == 0
            assert step.behind == 600
            assert step.problem.startswith(f"time-series server {server.url} cannot be reached")
            waits.append(step.next_try_s)
            clock.advance(step.next_try_s)
        assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300]
        server.start()
        steps = push_all(link)
        assert [(step.sent, step.problem) for step in steps] == [(500, ""), (100, "")]
    assert copy(server) == truth


def test_an_uploader_killed_between_write_and_cursor_leaves_no_double(
    store: Store, server: Victoria, clock: FakeClock
) -> None:
    truth = fill(store, clock, 150)
    store.close()
    script = Path(__file__).with_name("uploader.py")
    path = store._path  # noqa: SLF001
    command = [sys.executable, str(script), str(path), str(server.port)]
    for _ in range(2):
        ended = subprocess.run(command, env=ENVIRONMENT, check=False)
        assert ended.returncode == -signal.SIGKILL
    assert copy(server) == truth, "the writes arrived before the kills"
    with opened(path, clock) as again, uplink(again, server, clock) as link:
        assert [step.sent for step in push_all(link)] == [450]
    assert copy(server) == truth


def test_a_reading_replaced_in_its_second_is_replaced_on_the_server(
    store: Store, server: Victoria, clock: FakeClock
) -> None:
    with uplink(store, server, clock) as link:
        write_reading(store, clock.moment(), 20)
        link.push()
        write_reading(store, clock.advance(0.4), 30)
        link.push()
    assert [list(points.values()) for points in copy(server).values()] == [[30]]


def test_reach_tells_whether_the_server_is_there(
    store: Store, server: Victoria, clock: FakeClock
) -> None:
    with uplink(store, server, clock) as link:
        link.reach()
        server.stop()
        with pytest.raises(UplinkError, match=r"does not answer; check influx\.url"):
            link.reach()


def test_the_client_library_is_loaded_only_by_who_has_a_server() -> None:
    """It takes some 30 MB of memory."""
    code = "import noonpot.uplink.influx, sys; sys.exit('influxdb_client' in sys.modules)"
    command = [sys.executable, "-c", code]
    assert subprocess.run(command, env=ENVIRONMENT, check=False).returncode == 0


def test_a_missing_client_library_says_how_to_get_it(
    store: Store, server: Victoria, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "influxdb_client.client.influxdb_client", None)
    with pytest.raises(UplinkError, match=r"pip install 'noonpot\[influx\]'"):
        Uplink(store, server, "garden", clock)
