"""A clock that is wrong, is set late, or jumps: what it does to each part of the station."""

import json
import threading
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from endurance.clock_kitchen import (
    DAY_S,
    FIRST_MONO_S,
    POLL_S,
    SINK,
    STEPS_S,
    TRUE,
    WRONG_S,
    YEAR_S,
    Kitchen,
)
from endurance.extent import FULL, Tell
from engine.kitchen import PROBES
from fakes import FakeClock, RecordingNotifier
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import utc
from noonpot.core.readings import Defect, Measured
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.poller import Poller
from noonpot.ports import Found, Health
from noonpot.store.inbox import FileInbox, hand_in, refusal

BLIND_S = 900.0 if FULL else 300.0
EVER = (datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC))
BARS = "0 false alarms, rows right to 1 s"
SHORT = ("1970",)
LATE = [pytest.param(s, id=name) for name, s in WRONG_S.items() if FULL or name in SHORT]
JUMPS = STEPS_S if FULL else STEPS_S[2:3]
# These look ahead, by the sun, and go by the clock as it is.
AHEAD = {"soon", "sky", "rescue", "turn"}


def cooked(folder: Path, error_s: float, *, trusted: bool = True, step_s: float = 0.0) -> Kitchen:
    """Chicken that stands lukewarm, with a clock that is off at first and set, or that jumps, after
    a quarter of an hour; the kitchen is to be entered.
    """
    folder.mkdir()
    kitchen = Kitchen(folder, error_s, trusted)
    with kitchen:
        kitchen.say(EventKind.START, food="chicken")
        kitchen.round()
        kitchen.say(EventKind.LOAD, food="chicken", mass_kg="1.2")
        kitchen.live(BLIND_S / 2)
        kitchen.live(BLIND_S / 2, lame=True)
        assert kitchen.store.outgoing(SINK, 10_000) == [] or trusted
        if step_s:
            kitchen.step(step_s)
        else:
            kitchen.right()
        kitchen.live(BLIND_S)
        kitchen.say(EventKind.NOTE, text="looked")
        kitchen.live(BLIND_S, core_c=48.0)
        kitchen.written()
        kitchen.danger_at_end_s = kitchen.danger_s
        if not step_s:
            hold_rows(kitchen)
    return kitchen


def hold_rows(kitchen: Kitchen) -> None:
    """Every row of the file tells the time of the village, to the second."""
    store, now = kitchen.store, kitchen.clock.moment()
    begun, end = TRUE - timedelta(seconds=5), now.at
    for probe in ("box-pot", "box-core", "shade"):
        samples = store.samples_of(probe, *EVER)
        assert len(samples) >= 3 * BLIND_S / POLL_S / 2
        for sample in samples:
            late_s = (sample.at - kitchen.true(sample.mono_s)).total_seconds()
            assert abs(late_s) <= 1.0, (sample, late_s)
    events = store.events_of("box", begun, end)
    kinds = [event.kind for event in events]
    assert [k for k in kinds if k is not EventKind.NOTE] == [EventKind.START, EventKind.LOAD]
    assert abs((events[0].at - TRUE).total_seconds()) <= 1.0
    (cook,) = store.running_cooks()
    assert abs((cook.started_at - TRUE).total_seconds()) <= 1.0
    assert cook.load is not None
    assert abs((cook.load.at - TRUE).total_seconds()) <= 1.0 + POLL_S
    for record in store.alarm_records():
        late_s = (record.since.at - kitchen.true(record.since.mono_s)).total_seconds()
        assert abs(late_s) <= 1.0, record
    raised = {(r.alarm, round(r.mono_s)): r for r in kitchen.raised}
    for alert in store.unsent("phone", 1000):
        found = [r for r in raised.values() if r.alarm == alert.alarm]
        lates = [abs((alert.at - kitchen.true(r.mono_s)).total_seconds()) for r in found]
        assert min(lates) <= 1.0, alert
        assert alert.expires_at > alert.at
    points = store.outgoing(SINK, 100_000)
    assert points
    for point in points:
        at = datetime.fromtimestamp(point.at_ms / 1000, UTC)
        assert begun <= at <= end + timedelta(seconds=1)


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Kitchen:
    """The same with a clock that was right all the time."""
    kitchen = cooked(tmp_path_factory.mktemp("steady") / "a", 0.0)
    assert kitchen.alarms() != []
    return kitchen


def by_heat(kitchen: Kitchen) -> list[tuple[str, float]]:
    return [(alarm, mono_s) for alarm, mono_s in kitchen.alarms() if alarm not in AHEAD]


@pytest.fixture(scope="module", params=LATE)
def late(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Kitchen:
    """A kitchen whose clock was set late; its rows were held against the time of the village."""
    return cooked(tmp_path_factory.mktemp("late") / "a", request.param, trusted=False)


def test_a_clock_that_is_set_late_makes_every_row_of_its_boot_right_and_raises_nothing(
    late: Kitchen, steady: Kitchen, figure: Tell
) -> None:
    assert by_heat(late) == by_heat(steady)
    assert {alarm for alarm, _ in late.alarms()} <= {alarm for alarm, _ in steady.alarms()}
    assert set(late.own_alarms()) <= {"clock"}
    told = "readings, faults, events, cooks, alarms, alerts, points: all right"
    figure(10, f"a clock set late ({len(LATE)} of them)", told, BARS)


def test_food_has_not_stood_lukewarm_for_longer_because_the_clock_was_set(
    late: Kitchen, steady: Kitchen, figure: Tell
) -> None:
    error_s = abs(late.danger_at_end_s - steady.danger_at_end_s)
    assert error_s < 1.0
    figure(10, "time in the danger zone, clock set late", f"{error_s:.1f} s off", "< 1 s")


@pytest.mark.parametrize("step_s", JUMPS)
def test_a_step_of_a_clock_that_was_set_raises_nothing_and_stops_no_time_in_the_danger_zone(
    tmp_path: Path, steady: Kitchen, figure: Tell, step_s: float
) -> None:
    kitchen = cooked(tmp_path / "a", 0.0, step_s=step_s)
    assert by_heat(kitchen) == by_heat(steady)
    assert {alarm for alarm, _ in kitchen.alarms()} <= {alarm for alarm, _ in steady.alarms()}
    error_s = abs(kitchen.danger_at_end_s - steady.danger_at_end_s)
    assert error_s < 1.0
    figure(10, f"steps of the clock ({len(JUMPS)} of them)", f"{error_s:.1f} s off", "< 1 s")


@pytest.mark.parametrize(
    "step_s",
    [DAY_S, -3600.0, -DAY_S],
)
def test_a_daemon_that_starts_again_after_a_step_has_not_forgotten_the_danger(
    tmp_path: Path, step_s: float
) -> None:
    with Kitchen(tmp_path) as kitchen:
        kitchen.say(EventKind.LOAD, food="chicken")
        kitchen.live(600.0)
        if step_s:
            kitchen.step(step_s)
        kitchen.live(300.0)
        kitchen.written()
        before_s = kitchen.danger_s
        kitchen.begin()
        kitchen.live(60.0)
        assert kitchen.danger_s == pytest.approx(before_s + 60.0, abs=POLL_S)


# --- polling


class Wires:
    """A probe whose every tenth reading is a moment at which somebody sets the clock."""

    def __init__(self, clock: FakeClock, steps_s: Sequence[float]) -> None:
        self._clock = clock
        self._steps = list(steps_s)
        self._reads = 0
        self.over = threading.Event()

    def scan(self) -> Sequence[Found]:
        return ()

    def read(self, _address: str) -> Measured | Defect:
        self._reads += 1
        if self._reads % 10 == 0:
            if not self._steps:
                self.over.set()
                return Measured(20.0)
            self._clock.step_wall(self._steps.pop())
        return Measured(20.0)

    def notice(self, event: Event) -> None:
        pass

    def close(self) -> None:
        pass


def test_no_step_of_the_clock_delays_a_reading(figure: Tell) -> None:
    clock = FakeClock(TRUE)
    wires = Wires(clock, STEPS_S)
    probe = PROBES[0]
    poller = Poller({probe.bus: wires}, [probe], clock, Health(), interval_s=2.0)
    poller.start()
    assert wires.over.wait(20)
    poller.stop()
    stamps = [sample.mono_s for sample in poller.collect()][: 10 * len(STEPS_S)]
    gaps = [b - a for a, b in pairwise(stamps)]
    assert len(gaps) > 70
    assert max(gaps) <= 2 * 2.0
    figure(10, "gap between readings at 8 steps", f"{max(gaps):.1f} s at 2 s", "2 intervals")


# --- letters


def letter(folder: Path, clock: FakeClock, kind: EventKind = EventKind.LOAD) -> str:
    return hand_in(folder, Event("box", clock.moment().at, kind, {"food": "bread"}), clock=clock)


@pytest.mark.parametrize("error_s", WRONG_S.values(), ids=WRONG_S)
def test_a_letter_that_lay_there_while_the_clock_was_set_tells_the_true_time(
    tmp_path: Path, error_s: float
) -> None:
    clock = FakeClock(TRUE)
    clock.step_wall(error_s)
    clock.trust(False)
    inbox = FileInbox(tmp_path, lambda _: False, clock)
    letter(tmp_path, clock)
    clock.advance(300)
    clock.step_wall(-error_s)
    clock.trust(True)
    (found,) = inbox.take()
    assert found.event.at == TRUE


def test_a_letter_of_a_clock_that_is_still_wrong_keeps_its_time_for_it_moves_with_the_rest(
    tmp_path: Path,
) -> None:
    clock = FakeClock(datetime(1970, 1, 1, 0, 2, tzinfo=UTC))
    clock.trust(False)
    inbox = FileInbox(tmp_path, lambda _: False, clock)
    letter(tmp_path, clock)
    clock.advance(300)
    (found,) = inbox.take()
    assert found.event.at == utc("1970-01-01T00:02:00Z")


def test_a_letter_of_an_earlier_boot_without_a_clock_is_refused_with_what_to_do(
    tmp_path: Path,
) -> None:
    clock = FakeClock(datetime(1970, 1, 1, 0, 2, tzinfo=UTC))
    clock.trust(False)
    name = letter(tmp_path, clock)
    later = FakeClock(TRUE, 30.0)
    later.boot_id = "boot-2"
    assert FileInbox(tmp_path, lambda _: False, later).take() == []
    assert refusal(tmp_path, name) == "this was said before the clock was set; say it again"


@pytest.mark.parametrize(
    "more",
    [
        {"boot": "boot-1", "mono_s": "x"},
        {"boot": "boot-1", "mono_s": 1e300},
        {"boot": "boot-1", "mono_s": -1e300},
        {"boot": 1, "mono_s": None},
        {"boot": "boot-1"},
    ],
)
def test_a_stamp_that_cannot_be_is_no_stamp(tmp_path: Path, more: dict[str, object]) -> None:
    clock = FakeClock(TRUE)
    inbox = FileInbox(tmp_path, lambda _: False, clock)
    name = letter(tmp_path, clock)
    file = tmp_path / f"{name}.json"
    told = json.loads(file.read_text())
    del told["boot"], told["mono_s"]
    file.write_text(json.dumps(told | more))
    (found,) = inbox.take()
    assert found.event.at == TRUE


def test_a_cook_begun_by_a_letter_just_before_the_clock_was_set_is_not_56_years_old(
    tmp_path: Path,
) -> None:
    with Kitchen(tmp_path, WRONG_S["1970"], trusted=False) as kitchen:
        kitchen.live(60.0)
        kitchen.say(EventKind.LOAD, food="chicken")
        kitchen.right()
        kitchen.live(60.0)
        cook = kitchen.watch.cook
        assert cook is not None
        assert abs((cook.started_at - kitchen.true(FIRST_MONO_S + 60.0)).total_seconds()) <= 1.0
        assert kitchen.danger_s < 120.0
        assert "danger-zone" not in {alarm for alarm, _ in kitchen.alarms()}


# --- what waits to be told


@pytest.mark.parametrize(
    ("error_s", "trusted"),
    [
        pytest.param(WRONG_S["1970"], False, id="set late, from 1970"),
        pytest.param(WRONG_S["yesterday"], False, id="set late, from yesterday"),
    ],
)
def test_an_alert_that_waited_for_the_network_is_told_though_the_clock_comes_with_it(
    tmp_path: Path, error_s: float, trusted: bool
) -> None:
    """The broker and the time come in the same second; the round that hears of it comes later."""
    with Kitchen(tmp_path, error_s, trusted) as kitchen:
        kitchen.say(EventKind.START, food="custard")
        kitchen.live(300.0, core_c=20.0)
        waiting = [alert.id for alert in kitchen.store.unsent("phone", 100)]
        assert waiting
        kitchen.right()
        phone = RecordingNotifier()
        phone.channel = "phone"
        Dispatcher(phone, kitchen.store, kitchen.clock, Health()).turn()
        assert [alert.id for alert in phone.told] == waiting


@pytest.mark.parametrize("step_s", [3600.0, DAY_S, 56 * YEAR_S])
def test_an_alert_that_waits_is_none_the_older_when_the_clock_jumps(
    tmp_path: Path, step_s: float
) -> None:
    with Kitchen(tmp_path) as kitchen:
        kitchen.say(EventKind.START, food="custard")
        kitchen.live(300.0, core_c=20.0)
        waiting = [alert.id for alert in kitchen.store.unsent("phone", 100)]
        assert waiting
        kitchen.step(step_s)
        phone = RecordingNotifier()
        phone.channel = "phone"
        Dispatcher(phone, kitchen.store, kitchen.clock, Health()).turn()
        assert [alert.id for alert in phone.told] == waiting
