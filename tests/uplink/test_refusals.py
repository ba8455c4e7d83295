"""A server that refuses: what waits, what is put aside, and what a person is told."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.ports import Batch
from noonpot.store.passes import RIPE_S
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import Uplink
from store.shelf import START, opened, reading
from uplink.refuser import Answer, Refuser


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    """One hundred readings of 0, 1, 2 … °C wait in it."""
    with opened(tmp_path / "noonpot.db", clock) as store:
        for value in range(100):
            now = clock.advance(1)
            store.write(now, Batch(samples=[reading(now, value)]))
        yield store


@contextmanager
def link_to(server: Refuser, store: Store, clock: FakeClock) -> Iterator[Uplink]:
    link = Uplink(store, server, "garden", clock)
    try:
        yield link
    finally:
        link.close()


def quarantine(store: Store) -> list[tuple[str, str]]:
    rows = store._db.execute("SELECT line, reason FROM quarantine ORDER BY line")  # noqa: SLF001
    return [(row["line"], row["reason"]) for row in rows]


def refusing(*values: int) -> Refuser:
    """A server to which readings of these values are a conflict of types."""

    def judge(lines: list[str]) -> Answer:
        bad = [line for line in lines for value in values if f"celsius={value} " in line]
        return Answer(400, f"field type conflict near {len(bad)}") if bad else Answer()

    return Refuser(judge)


def test_the_write_is_that_of_influxdb_2(store: Store, clock: FakeClock) -> None:
    """The path, its query and the login are those of the InfluxDB 2 API documentation."""
    with Refuser() as server, link_to(server, store, clock) as link:
        link.push()
    assert server.paths == ["/api/v2/write?org=home&bucket=garden&precision=ms"]
    assert server.logins == ["Token s3cret"]
    first_ms = int(START.timestamp() + 1) * 1000
    assert server.taken[0] == (
        f"temperature,cooker=box,probe=box-pot,role=pot,station=garden celsius=0 {first_ms}"
    )


@pytest.mark.parametrize("status", [400, 401, 500])
def test_a_server_that_repeats_the_token_does_not_bring_it_into_the_log(
    store: Store, clock: FakeClock, status: int
) -> None:
    answer = Answer(status, f"what shall I do with 'Token {Refuser.token}'?")
    with Refuser(lambda _: answer) as server, link_to(server, store, clock) as link:
        step = link.push()
    assert "what shall I do with 'Token …'?" in step.problem
    assert Refuser.token not in step.problem + str(quarantine(store))


@pytest.mark.parametrize("bad", [(0,), (99,), (50,), (3, 4, 5), (0, 17, 98, 99)])
def test_bad_rows_are_put_aside_and_all_others_arrive(
    store: Store, clock: FakeClock, bad: tuple[int, ...]
) -> None:
    with refusing(*bad) as server, link_to(server, store, clock) as link:
        step = link.push()
        assert (step.sent, step.behind) == (100 - len(bad), 0)
        assert f"refused {len(bad)} of 100 points, now in quarantine: field type" in step.problem
        assert len(set(server.taken)) == 100 - len(bad)
        aside = quarantine(store)
        assert len(aside) == len(bad)
        assert all(reason == "field type conflict near 1" for _, reason in aside)
        assert {line for line, _ in aside}.isdisjoint(server.taken)
        clock.advance(10)
        step = link.push()
        assert (step.sent, step.behind, step.problem) == (0, 0, "")


def test_a_bucket_that_takes_nothing_is_the_bucket_s_fault(store: Store, clock: FakeClock) -> None:
    with (
        Refuser(lambda _: Answer(422, "outside retention")) as server,
        link_to(server, store, clock) as link,
    ):
        step = link.push()
        assert step.problem.endswith(
            "refuses point after point (outside retention); is influx.bucket the right one?"
        )
        assert (step.sent, step.behind, quarantine(store)) == (0, 100, [])
        assert len(server.writes) < 60
        server.judge = lambda _: Answer()
        clock.advance(step.next_try_s)
        assert link.push().sent == 100


@pytest.mark.parametrize("status", [429, 503])
@pytest.mark.parametrize(
    ("header", "wait_s"),
    [
        ("120", 120),
        (format_datetime(START + timedelta(seconds=100 + 90), usegmt=True), 90),
        ("0", 1),
        ("999999999", 3600),
        ("soon", 1),
    ],
)
def test_the_wait_a_server_asks_for_is_kept(
    store: Store, clock: FakeClock, status: int, header: str, wait_s: float
) -> None:
    answer = Answer(status, "too busy", {"Retry-After": header})
    with Refuser(lambda _: answer) as server, link_to(server, store, clock) as link:
        step = link.push()
        assert (step.sent, step.behind, step.next_try_s) == (0, 100, wait_s)
        assert step.problem.endswith(f"answers {status} (too busy); it is tried again")
        server.judge = lambda _: Answer()
        clock.advance(wait_s - 0.5)
        assert link.push().next_try_s == 0.5
        assert len(server.writes) == 1
        clock.advance(0.5)
        assert link.push().sent == 100


@pytest.mark.parametrize(
    ("status", "cure"),
    [
        (401, "the token is wrong: see influx.token_file"),
        (403, "the token may not write there: see influx.token_file"),
        (404, "no such organisation or bucket: see influx.org and influx.bucket"),
        (500, "it is tried again"),
    ],
)
def test_a_setting_that_is_wrong_is_named(
    store: Store, clock: FakeClock, status: int, cure: str
) -> None:
    with (
        Refuser(lambda _: Answer(status, "no")) as server,
        link_to(server, store, clock) as link,
    ):
        step = link.push()
        assert step.problem == f"time-series server {server.url} answers {status} (no); {cure}"
        assert (step.sent, step.behind, quarantine(store)) == (0, 100, [])


def test_the_wait_starts_anew_after_a_success(store: Store, clock: FakeClock) -> None:
    with Refuser(lambda _: Answer(500)) as server, link_to(server, store, clock) as link:
        for wait_s in (1, 2, 4):
            step = link.push()
            assert step.next_try_s == wait_s
            clock.advance(wait_s)
        server.judge = lambda _: Answer()
        assert link.push().sent == 100
        server.judge = lambda _: Answer(500)
        now = clock.advance(10)
        store.write(now, Batch(samples=[reading(now, 5)]))
        assert link.push().next_try_s == 1


def test_what_arrived_before_a_failure_does_not_go_again(store: Store, clock: FakeClock) -> None:
    """Else a bad road and a bad point together would hold up all others for good."""
    with refusing(3, 50, 98) as server, link_to(server, store, clock) as link:
        judge = server.judge
        server.judge = lambda lines: Answer(503) if len(server.writes) % 2 else judge(lines)
        for _ in range(200):
            step = link.push()
            clock.advance(step.next_try_s)
            if step.sent:
                break
        assert (step.sent, step.behind) == (97, 0)
        assert len(server.taken) == len(set(server.taken)) == 97
        assert len(quarantine(store)) == 3


def test_a_refused_point_is_not_tried_for_the_second_time(store: Store, clock: FakeClock) -> None:
    with refusing(7) as server, link_to(server, store, clock) as link:
        link.push()
        clock.advance(RIPE_S)
        link.push()
        before = len(server.writes)
        step = link.push()
        assert (step.sent, step.problem) == (99, "")
        assert len(server.writes) == before + 1
        assert len(quarantine(store)) == 1


def test_a_write_that_is_too_large_goes_in_parts(store: Store, clock: FakeClock) -> None:
    with (
        Refuser(lambda lines: Answer(413) if len(lines) > 30 else Answer()) as server,
        link_to(server, store, clock) as link,
    ):
        assert link.push().sent == 100
        assert len(set(server.taken)) == 100
        assert quarantine(store) == []
