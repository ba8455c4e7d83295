"""The real daemon and a real broker, both killed again and again: what people and pages get."""

import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import Broker, Phone
from e2e.orchard import CLOCK
from faults.extent import FULL, Tell, chance
from faults.field import COOKERS, COOL_C, HOT_C, Field, doubles, heard, lasting_broker

WAVES, AWAY_S = (5, 600.0) if FULL else (2, 0.0)
DAEMON_KILLS = WAVES
BROKER_KILLS = 3
FIRST_S = 15.0
ALL = WAVES * len(COOKERS)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with lasting_broker(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def field(tmp_path: Path, broker: Broker) -> Iterator[Field]:
    field = Field(tmp_path, broker.port)
    yield field
    field.end(signal.SIGKILL)


def test_all_alarms_of_an_outage_arrive_though_daemon_and_broker_are_killed(
    broker: Broker, field: Field, figure: Tell
) -> None:
    luck = chance()
    with Phone(broker.port, "noonpot/#") as phone:
        field.start()
        phone.wait_for("/status", status="online")
        field.cook()
        broker.save()
        broker.kill()
        gone_s = CLOCK.moment().mono_s
        kills_left = DAEMON_KILLS - 1  # one is kept for the time when all is being delivered
        for wave in range(1, WAVES + 1):
            kill_at = luck.randint(0, len(COOKERS)) if kills_left else None
            heat_and_cool(field, wave, kill_at)
            kills_left -= kill_at is not None
            wait_till(gone_s + AWAY_S * wave / WAVES)
        away_s = CLOCK.moment().mono_s - gone_s

        # It is back, and is killed twice more while it delivers, the daemon once.
        broker.start()
        first_s = field.wait(lambda: count(phone) >= 1, "the first alert is delivered")
        for victim in luck.sample(["broker", "broker", "daemon"], 3):
            some = luck.randint(count(phone), ALL)
            field.wait(lambda some=some: count(phone) >= some, f"{some} alerts")  # type: ignore[misc]
            if victim == "broker":
                broker.kill()
                broker.start()
            else:
                field.end(signal.SIGKILL)
                field.start()
        field.wait(lambda: heard(phone) == field.outbox(), "all alerts have come, in order")
        with Phone(broker.port, "noonpot/+/+/alarm/+", name="guest") as guest:
            field.wait(lambda: shown(guest) == stored(field), "the broker shows the alarms")
            states = len(shown(guest))
        came = count(phone)
        twice = doubles(phone.messages("/alert"))
    figure(
        5,
        f"alerts of an outage of {away_s:.0f} s, {DAEMON_KILLS} kill -9 of the daemon, "
        f"{BROKER_KILLS} of the broker",
        f"{came} of {ALL} after de-duplication, {twice} doubles before it",
        "all, once",
    )
    figure(5, "first alert after the broker's return", f"{first_s:.1f} s", f"<= {FIRST_S:.0f} s")
    figure(5, "alarms not at rest, at the broker as in the data file", f"{states}", "all")
    assert came == ALL
    assert states >= len(COOKERS)
    assert first_s <= FIRST_S


def heat_and_cool(field: Field, wave: int, kill_at: int | None) -> None:
    """All pots get hot, the daemon dies once so many alerts are stored, and the pots cool down."""
    before = (wave - 1) * len(COOKERS)
    field.show(HOT_C)
    if kill_at is not None:
        field.wait(lambda: field.stored("preheated") >= before + kill_at, "some pots are hot")
        field.end(signal.SIGKILL)
        field.start()
    field.wait(lambda: field.stored("preheated") == before + len(COOKERS), "all pots are hot")
    field.show(COOL_C)
    field.wait(field.is_cool, "all pots are cool")


def wait_till(mono_s: float) -> None:
    """Let the outage last."""
    CLOCK.wait(threading.Event(), max(0.0, mono_s - CLOCK.moment().mono_s))


def count(phone: Phone) -> int:
    """How many different alerts about hot pots have come."""
    return sum(len(ids) for name, ids in heard(phone).items() if name.endswith("/preheated"))


def shown(guest: Phone) -> dict[str, str]:
    """How the broker shows every alarm to somebody who came late; those at rest left out."""
    told = {m.topic.split("/", 2)[2]: m.json["state"] for m in guest.messages()}
    return {topic: state for topic, state in told.items() if state != "normal"}


def stored(field: Field) -> dict[str, str]:
    """The same from the data file."""
    return {topic: state for topic, state in field.states().items() if state != "normal"}
