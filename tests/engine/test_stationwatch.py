"""The station's own alarms through real rounds and a real data file: raised, answered, over."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from engine.kitchen import HOUSE, PROBES, STATION, event, reading, watch_at
from fakes import FakeClock, RecordingNotifier
from noonpot.core.alert import Alert
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.stationfacts import OWN, Absence, Silent
from noonpot.engine.clockguard import ClockGuard
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.ports import Health
from noonpot.store.sqlite import Store
from simday import at
from stationcases import SURVEY

POLL_S = 2.0


class House:
    """A station with one cooker on a real store, surveyed anew each round."""

    def __init__(self, folder: Path, clock: FakeClock) -> None:
        self.clock = clock
        self.path = folder / "noonpot.db"
        self.store = Store(self.path, clock)
        self.store.register(PROBES)
        self.phone = RecordingNotifier()
        self.own = StationWatch(HOUSE, clock.moment())
        self.watch = watch_at(clock)
        self.survey = SURVEY
        self._guard = ClockGuard(clock.moment())
        self.pipeline = Pipeline(
            STATION.name,
            [self.watch],
            {p.name: ProbeFilter() for p in PROBES},
            self.store,
            [self.phone],
            Health(),
            own=self.own,
        )

    def live(self, seconds: float, **changes: Any) -> None:
        """Rounds in which the machine shows itself as ``changes`` say."""
        self.survey = replace(self.survey, **changes)
        for _ in range(int(seconds // POLL_S)):
            now = self.clock.advance(POLL_S)
            step = self._guard.check(now)
            if step is not None:
                self.pipeline.clock_stepped(step, now)
            self.own.survey = replace(self.survey, mono_s=now.mono_s)
            self.pipeline.round(now, [reading("box-pot", now, 60.0)], [])

    def say(self, kind: EventKind, **detail: str) -> dict[int, str]:
        now = self.clock.advance(1)
        return self.pipeline.round(now, [], [Event(OWN, now.at, kind, detail)])

    def happen(self, kind: EventKind, **detail: str) -> None:
        now = self.clock.advance(1)
        assert self.pipeline.round(now, [], [event(kind, now, **detail)]) == {}

    def told(self) -> list[Alert]:
        """Alerts of the station in the outbox."""
        return [a for a in self.store.unsent("recording", 1000) if a.cooker == OWN]

    def shown(self, alarm: str) -> object:
        return self.phone.shown[f"station/alarm/{alarm}"]["state"]


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path, FakeClock(at("09:00")))
    house.pipeline.resume(house.clock.moment())
    yield house
    house.store.close()


DOWN = (Silent("mqtt", 0.0, "connection refused", 2),)
SPOILT: dict[str, dict[str, Any]] = {
    "link": {"silent": DOWN},
    "power": {"under_voltage": True},
    "storage": {"free_mb": 100.0},
    "restart": {"absence": Absence(10.0, 10.0, 4)},
}


@pytest.mark.parametrize("alarm", SPOILT)
def test_an_alarm_is_raised_once_and_returns_once_all_is_well(house: House, alarm: str) -> None:
    policy = HOUSE.policies[alarm]
    house.live(60)
    assert house.shown(alarm) == "normal"
    house.live(policy.on_delay_s - POLL_S, **SPOILT[alarm])
    assert house.told() == []
    house.live(200)
    assert [a.alarm for a in house.told()] == [alarm]
    assert house.shown(alarm) == "unacknowledged"
    usual = {key: getattr(SURVEY, key) for key in SPOILT[alarm]}
    house.live(policy.off_delay_s + 2 * POLL_S, **usual)
    assert house.shown(alarm) == "returned-unacknowledged"
    assert house.say(EventKind.ACKNOWLEDGE, alarm=alarm) == {}
    assert house.shown(alarm) == "normal"


def test_an_old_survey_neither_raises_nor_clears(house: House) -> None:
    house.live(300, under_voltage=True)
    assert house.shown("power") == "unacknowledged"
    house.own.survey = replace(SURVEY, mono_s=house.clock.moment().mono_s)  # the last one: well
    for _ in range(1000):
        house.pipeline.round(house.clock.advance(POLL_S), [], [])
    assert house.shown("power") == "unacknowledged"


def test_a_person_can_put_off_and_answer_and_nothing_else(house: House) -> None:
    house.live(300, silent=DOWN)
    assert house.say(EventKind.SHELVE, alarm="link", minutes="10") == {}
    assert house.shown("link") == "shelved"
    house.live(620)
    assert house.shown("link") == "unacknowledged"
    assert "did you mean link?" in house.say(EventKind.ACKNOWLEDGE, alarm="lnk")[0]
    assert "only a cooker" in house.say(EventKind.LOAD, food="bread")[0]
    assert "there is no alarm" in house.say(EventKind.ACKNOWLEDGE, alarm="done")[0]


def test_a_restart_repeats_nothing_that_was_told(tmp_path: Path) -> None:
    clock = FakeClock(at("09:00"))
    first = House(tmp_path, clock)
    first.live(300, silent=DOWN)
    first.say(EventKind.ACKNOWLEDGE, alarm="link")
    first.store.close()
    second = House(tmp_path, clock)
    second.pipeline.resume(clock.moment())
    assert second.shown("link") == "acknowledged"
    second.live(600, silent=DOWN)
    assert [a.alarm for a in second.told()] == ["link"]
    second.store.close()


@contextmanager
def full_card(house: House) -> Iterator[None]:
    """SQLite may take no more pages; the next long note needs two."""
    db = house.store._db  # noqa: SLF001  the limit belongs to the one connection
    (usual,) = db.execute("PRAGMA max_page_count").fetchone()
    (pages,) = db.execute("PRAGMA page_count").fetchone()
    db.execute(f"PRAGMA max_page_count = {pages}")
    yield
    db.execute(f"PRAGMA max_page_count = {usual}")


@contextmanager
def read_only_card(house: House) -> Iterator[None]:
    db = house.store._db  # noqa: SLF001  as above
    db.execute("PRAGMA query_only = ON")
    yield
    db.execute("PRAGMA query_only = OFF")


@contextmanager
def failing_card(_house: House) -> Iterator[None]:
    """The kernel fails every write beyond the first kilobyte of a file (EFBIG)."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1024, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize(
    ("card", "words"),
    [
        (full_card, "card full"),
        (read_only_card, "can no longer be written"),
        (failing_card, "can no longer be written"),
    ],
)
def test_a_card_that_fails_is_told_without_it_and_loses_nothing(
    house: House, card: Any, words: str
) -> None:
    house.happen(EventKind.START, food="bread")
    house.live(30)
    began = house.clock.moment().at
    with card(house):
        house.happen(EventKind.NOTE, text="x" * 9000)
        house.live(60)
        (alert,) = [a for a in house.phone.told if a.cooker == OWN]
        assert words in alert.text
        assert house.told() == []  # it could not be written
        assert house.shown("storage") == "unacknowledged"
    house.live(30)
    assert [a.id for a in house.told()] == [alert.id]  # the same one: the receiver drops the double
    house.live(60)
    assert house.shown("storage") == "returned-unacknowledged"
    readings = house.store.samples_of("box-pot", began, house.clock.moment().at)
    assert len(readings) >= 75 - 5


def test_a_note_as_such_fills_no_card(house: House) -> None:
    """The faults above come from the card, not from what is written there."""
    house.happen(EventKind.START, food="bread")
    house.happen(EventKind.NOTE, text="x" * 9000)
    house.live(60)
    assert house.shown("storage") == "normal"
    assert house.phone.told == []


def test_an_absence_during_a_cook_is_told_after_the_start(tmp_path: Path) -> None:
    clock = FakeClock(at("09:00"))
    first = House(tmp_path, clock)
    first.store.begin()
    first.happen(EventKind.START, food="bread")
    first.live(20)
    first.store.close()
    clock.advance(720)
    second = House(tmp_path, clock)
    second.store.begin()
    second.pipeline.resume(clock.moment())
    second.live(4, absence=second.store.absence())
    (alert,) = second.told()
    assert "was off for about 12 min" in alert.text
    second.store.close()


def test_a_clock_that_is_not_set_is_told_after_a_while_and_ends_with_the_setting(
    house: House,
) -> None:
    house.clock.trust(False)
    house.live(290)
    assert house.told() == []
    house.live(20)
    assert [a.alarm for a in house.told()] == ["clock"]
    house.clock.step_wall(86_400)
    house.clock.trust(True)
    house.live(10)
    assert house.shown("clock") == "returned-unacknowledged"
    assert len(house.told()) == 1  # the first setting is no jump
