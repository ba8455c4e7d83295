"""The copy on a real time-series server equals the store, whatever happens on the way."""

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.forecast import Forecast
from noonpot.errors import UplinkError
from noonpot.ports import Batch, Given
from noonpot.store.passes import RIPE_S
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


def fields(server: Victoria, measurement: str) -> dict[str, dict[int, float]]:
    """What the server has of a measurement, by name, for one cooker."""
    return {dict(tags)["__name__"]: told for tags, told in server.points(measurement).items()}


def push_all(link: Uplink) -> list[Progress]:
    """Push while more waits."""
    steps = [link.push()]
    while steps[-1].next_try_s == 0:
        steps.append(link.push())
    return steps


def test_all_rows_arrive_equal(store: Store, server: Victoria, clock: FakeClock) -> None:
    truth = fill(store, clock, 450)
    box = store.write(clock.moment(), Batch(cooks=[Cook("box", clock.moment().at, "beans", 90.0)]))
    at = clock.moment().at
    lid = Event("box", at, EventKind.LID, {"text": 'a look, and a "smell"\n', "mass_kg": "1.5"})
    foreseen = Forecast(at, 90.0, 1 / 3, None, at + timedelta(hours=1), None)
    given = Given(box[0].id, foreseen)
    store.write(clock.moment(), Batch(events=[lid, lid], forecasts=[given]))
    with uplink(store, server, clock) as link:
        steps = push_all(link)
        assert [(step.sent, step.behind) for step in steps] == [(500, 851), (500, 351), (351, 0)]
        assert [step.problem for step in steps] == ["", "", ""]
        assert copy(server) == truth
        clock.advance(RIPE_S)
        steps = push_all(link) + push_all(link)
    assert [(step.sent, step.behind) for step in steps] == [(0, 2), (500, 0), (500, 0), (353, 0)]
    assert copy(server) == truth, "the second pass changes nothing"
    assert POT in server.points("temperature")
    assert {name: list(told.values()) for name, told in fields(server, "event").items()} == {
        "event_count": [1, 1],
        "event_mass_kg": [1.5, 1.5],
        "event_detail": [0, 0],  # this server keeps numbers; of words, that there were some
    }
    at_ms = int(at.timestamp() * 1000)
    assert fields(server, "forecast") == {
        "forecast_cook": {at_ms: box[0].id},
        "forecast_target_c": {at_ms: 90.0},
        "forecast_p_done": {at_ms: pytest.approx(1 / 3, rel=1e-11)},  # it keeps twelve digits
        "forecast_done_p50_s": {at_ms: 3600.0},
    }


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
        assert [(step.sent, step.problem) for step in steps] == [(500, ""), (400, "")]
    assert copy(server) == truth


def test_what_a_killed_server_forgot_goes_again(
    store: Store, server: Victoria, clock: FakeClock
) -> None:
    with uplink(store, server, clock) as link:
        truth = fill(store, clock, 10)
        push_all(link)
        server.kill()
        server.start()
        assert copy(server) == {}, "it has forgotten what it took in its last seconds"
        for wait_s in (RIPE_S, 1):
            clock.advance(wait_s)
            push_all(link)
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


def test_an_address_may_have_a_path(store: Store, server: Victoria, clock: FakeClock) -> None:
    """So it is with a cluster; this server knows one, too."""

    @dataclass(frozen=True)
    class Below:
        url: str = f"{server.url}/influx"
        org: str = "any"
        bucket: str = "any"
        token: str = ""

    truth = fill(store, clock, 10)
    with closing(Uplink(store, Below(), "garden", clock)) as link:
        link.reach()
        assert push_all(link)[-1].problem == ""
    assert copy(server) == truth
    wrong = Uplink(store, Below(f"{server.url}/nowhere"), "garden", clock)
    with closing(wrong), pytest.raises(UplinkError, match="does not answer"):
        wrong.reach()


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
