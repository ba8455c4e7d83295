"""Signs of life, given to real places by a station in memory."""

import logging
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.kitchen import event, morning, reading, watch_at
from fakes import FakeClock, RecordingNotifier
from noonpot.app.lifesigns import LifeSigns
from noonpot.app.messengers import Messengers
from noonpot.core.cook import EventKind
from noonpot.core.wording import Wording
from noonpot.ports import Health
from noonpot.settings.values import SignsOfLife
from noonpot.store.sqlite import Store
from receiver import Receiver


class Station:
    """Signs of life, and all that they need, in reach of the test."""

    def __init__(self, folder: Path, signs: SignsOfLife) -> None:
        self.clock: FakeClock = morning()
        self.store = Store(folder / "noonpot.db", self.clock)
        self.health = Health()
        self.notifier = RecordingNotifier()
        messengers = Messengers(
            [self.notifier], None, self.store, self.clock, self.health, threading.Event()
        )
        self.signs = LifeSigns("garden", signs, Wording(), self.clock, self.health, messengers)


@pytest.fixture
def place() -> Iterator[Receiver]:
    with Receiver() as receiver:
        yield receiver


def test_the_heartbeat_is_numbered_and_says_what_was_counted(tmp_path: Path) -> None:
    station = Station(tmp_path, SignsOfLife())
    station.health.count("mqtt-sent", 4)
    shown = []
    for _ in range(2):
        station.signs.show_health()
        shown.append(dict(station.notifier.shown["health"]))
    assert [one["sequence"] for one in shown] == [1, 2]
    assert shown[1]["counts"] == {"mqtt-sent": 4}
    station.store.close()


def test_a_ping_goes_out_only_after_work_was_done(tmp_path: Path, place: Receiver) -> None:
    station = Station(tmp_path, SignsOfLife(url=place.url()))
    station.signs.ping()
    assert place.fetched == []
    station.signs.beat()
    station.signs.ping()
    station.signs.ping()
    assert place.fetched == ["/ping-geheim"]
    assert station.health.counts == {"pings": 1}
    station.store.close()


def test_a_ping_that_fails_is_counted_and_logged_once_without_its_address(
    tmp_path: Path, place: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    station = Station(tmp_path, SignsOfLife(url=place.url()))
    with caplog.at_level(logging.INFO):
        for status in (500, 500, 200):
            place.status = status
            station.signs.beat()
            station.signs.ping()
    assert station.health.counts == {"ping-failures": 2, "pings": 1}
    assert caplog.messages == [
        "the address of [deadman]: it answers 500; check the address",
        "the address of [deadman]: it answers again",
    ]
    station.store.close()


def test_all_is_well_is_told_once_in_a_cook_though_the_program_was_restarted(
    tmp_path: Path,
) -> None:
    station = Station(tmp_path, SignsOfLife(all_well_s=3600))
    start = event(EventKind.START, station.clock.moment())
    for _ in range(2):
        watch = watch_at(station.clock)
        watch.take(start, station.clock.moment())
        station.signs.told()
        for _ in range(3):
            now = station.clock.advance(3600)
            watch.step(now, [reading("box-pot", now, 60.0)])
            station.signs.reassure([watch], station.store)
    (told,) = station.store.unsent("mqtt", 10)
    assert told.alarm == "all-well"
    station.store.close()
