"""Who falls silent without a goodbye, broker or daemon, is noticed; and nothing waits for them."""

import signal
import threading
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import psutil
import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK
from faults.extent import FULL, Tell
from faults.field import HOT_C, Field, lasting_broker

SEEN_S = 25.0
WILL_S = 90.0
FROZEN_S = 30.0 if FULL else 3.0
HOLE_S = 2  # a poll of 0.5 s and the second that is granted; readings are stored by whole seconds


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with lasting_broker(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def field(tmp_path: Path, broker: Broker) -> Iterator[Field]:
    field = Field(tmp_path, broker.port)
    yield field
    field.send(signal.SIGCONT)
    field.end(signal.SIGKILL)


def test_a_broker_that_hangs_is_noticed_and_holds_up_no_reading(
    broker: Broker, field: Field, figure: Tell
) -> None:
    with Phone(broker.port, "noonpot/+/status") as phone:
        field.start()
        phone.wait_for("/status", status="online")
        field.cook()
        (line,) = lines(field, broker)
        broker.freeze()
        frozen_s, since = CLOCK.moment().mono_s, stored_until(field)
        field.show(HOT_C)  # there is something to tell, which the broker does not acknowledge
        if FULL:
            seen_s = field.wait(lambda: line not in lines(field, broker), "the line is given up")
            figure(6, "broker frozen, seen", f"{seen_s:.1f} s", f"<= {SEEN_S:.0f} s")
            assert seen_s <= SEEN_S
        CLOCK.wait(threading.Event(), max(0.0, frozen_s + FROZEN_S - CLOCK.moment().mono_s))
        field.wait(lambda: seconds(since, stored_until(field)) >= FROZEN_S, "readings go on")
        hole_s = longest_hole_s(field, since)
        broker.thaw()
    figure(
        6,
        f"broker frozen for {FROZEN_S:.0f} s, longest hole between readings every 0.5 s",
        f"{hole_s:.0f} s, counted in whole seconds",
        f"<= {HOLE_S} s",
    )
    assert hole_s <= HOLE_S


def lines(field: Field, broker: Broker) -> set[int]:
    """The daemon's own ports of its connections to the broker."""
    found = psutil.Process(field.pid).net_connections("tcp4")
    mine = [c for c in found if c.raddr and c.raddr.port == broker.port]
    return {c.laddr.port for c in mine if c.status == psutil.CONN_ESTABLISHED}


def stored_until(field: Field) -> str:
    """When the last reading in the data file was made."""
    ((last,),) = field.select("SELECT max(at) FROM reading_utc WHERE probe = 'pot'")
    return str(last or "")


def seconds(since: str, until: str) -> float:
    """From one reading to another [s]; none when there was no first."""
    if not since:
        return 0.0
    return (datetime.fromisoformat(until) - datetime.fromisoformat(since)).total_seconds()


def longest_hole_s(field: Field, since: str) -> float:
    """The longest time between two readings of one probe [s]."""
    query = "SELECT DISTINCT at FROM reading_utc WHERE probe = 'pot' AND at >= ? ORDER BY at"
    made = [at for (at,) in field.select(query, since)]
    return max(seconds(earlier, later) for earlier, later in pairwise(made))


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP])
def test_a_daemon_that_ends_without_a_word_is_heard_of_by_its_last_will(
    broker: Broker, field: Field, figure: Tell, how: signal.Signals
) -> None:
    if how is signal.SIGSTOP and not FULL:
        pytest.skip("the broker waits for one and a half keepalives")
    with Phone(broker.port, "noonpot/+/status") as phone:
        field.start()
        phone.wait_for("/status", status="online")
        field.send(how)
        will_s = field.wait(lambda: phone.messages("/status")[-1].json["last_will"], "its will")
    figure(17, f"{how.name} of the daemon, last will seen", f"{will_s:.1f} s", f"<= {WILL_S:.0f} s")
    assert will_s <= WILL_S
