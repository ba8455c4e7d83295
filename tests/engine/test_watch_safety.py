"""Food that can make people ill, through the whole watch, live, after a restart, and replayed."""

from datetime import timedelta

import pytest

from engine.kitchen import HOUSE, daylight, event, morning, reading, watch_at
from fakes import FakeClock
from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.cook import Event, EventKind
from noonpot.core.header import Header
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Fault, FaultKind, Reading, Role
from noonpot.core.recording import Recording, Row
from noonpot.engine.daylight import Daylight
from noonpot.engine.household import Household
from noonpot.engine.memory import Memory
from noonpot.engine.replayer import Replayer, limits_for, station_of
from noonpot.errors import CookError
from simday import HILL, SimpleSun, at

HOUR = 3600.0
STEP_S, STEP_K = 20.0, 0.0625
ABOUT_HEALTH = {"danger-zone", "hold", "cooling", "food-unknown", "done"}


class Kitchen:
    """One watch that lives through a cook, keeping what the store would keep."""

    def __init__(self, food: str = "chicken") -> None:
        self.clock = morning()
        self.sky = daylight(self.clock.moment().at)
        self.watch = watch_at(self.clock, self.sky)
        self.samples: list[Reading] = []
        self.events: list[Event] = []
        self.told: list[tuple[str, str]] = []
        self.happen(EventKind.LOAD, food=food, mass_kg="1.2")

    def happen(self, kind: EventKind, **detail: str) -> None:
        self.events.append(event(kind, self.clock.moment(), **detail))
        self.watch.take(self.events[-1], self.clock.moment())

    def live(
        self,
        seconds: float,
        core_c: float | None,
        *,
        to_c: float | None = None,
        pot_c: float = 60.0,
        faults: bool = False,
    ) -> list[str]:
        """So long the core shows this, goes to another temperature, or shows nothing; returns the
        alarms told about health.
        """
        told, slope = [], 0.0 if core_c is None or to_c is None else (to_c - core_c) / seconds
        for turn in range(int(seconds // STEP_S)):
            now = self.clock.advance(STEP_S)
            stir = STEP_K * (turn % 3)  # nothing in a pot is ever quite still
            heard = [reading("box-pot", now, pot_c + stir)]
            if core_c is not None:
                core = core_c + slope * turn * STEP_S
                heard.append(reading("box-core", now, core + stir))
            self.samples += heard
            standing = [Fault("box-core", now.at, now.mono_s, FaultKind.CHECKSUM)] if faults else []
            outcome = self.watch.step(now, heard, standing)
            alerts = [a for a in outcome.alarms.alerts if a.alarm in ABOUT_HEALTH]
            self.told += [(a.alarm, a.text) for a in alerts]
            told += [a.alarm for a in alerts]
        return told

    def restart(self, off_s: float) -> None:
        """Off for so long; the monotonic clock starts anew, as the store tells it afterwards."""
        before = self.clock.moment()
        self.clock = FakeClock(before.at + timedelta(seconds=off_s), mono_s=20.0)
        shift_s = 20.0 - (before.mono_s + off_s)
        self.samples = [Reading(s.probe, s.at, s.mono_s + shift_s, s.value) for s in self.samples]
        old, self.watch = self.watch, watch_at(self.clock, self.sky)
        self.watch.restore(old.cook, old.records.values(), Memory(self.events, self.samples))

    def state(self, alarm: str) -> AlarmState:
        return self.watch.records[alarm].state


def test_chicken_that_stays_at_45_degrees_is_warned_of_and_then_condemned() -> None:
    kitchen = Kitchen()
    assert kitchen.live(3 * HOUR - 20, 45.0) == []
    assert kitchen.live(60, 45.0) == ["danger-zone"]
    assert "Heat it above 60 °C by 13:00, or discard it." in kitchen.told[0][1]
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="danger-zone")
    kitchen.live(HOUR, 45.0)
    assert "Discard it" in kitchen.told[-1][1]
    kitchen.live(HOUR, 95.0, pot_c=110.0)  # heat does not mend it
    assert kitchen.state("danger-zone") is AlarmState.UNACKNOWLEDGED
    assert kitchen.state("done") is AlarmState.NORMAL
    kitchen.happen(EventKind.UNLOAD)
    kitchen.live(90, 30.0)
    assert kitchen.state("danger-zone") is AlarmState.NORMAL


def test_chicken_that_is_cooked_in_time_is_done_and_nothing_else_is_said() -> None:
    kitchen = Kitchen()
    assert kitchen.live(HOUR, 10.0, to_c=80.0, pot_c=110.0) == []
    assert kitchen.live(300, 83.0, pot_c=110.0) == ["done"]
    assert "Check with a second thermometer." in kitchen.told[-1][1]


def test_a_warning_ends_only_when_the_heat_has_killed() -> None:
    kitchen = Kitchen()
    kitchen.live(3 * HOUR + 600, 45.0)
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="danger-zone")
    kitchen.live(600, 63.0, pot_c=110.0)  # 145 °F asks for 13.8 min
    assert kitchen.state("danger-zone") is AlarmState.ACKNOWLEDGED
    kitchen.live(600, 63.0, pot_c=110.0)
    assert kitchen.state("danger-zone") is AlarmState.NORMAL


def test_a_probe_lost_in_the_danger_zone_does_not_stop_the_clock() -> None:
    kitchen = Kitchen()
    kitchen.live(HOUR, 40.0)
    assert kitchen.live(600, None) == []
    assert kitchen.live(60, None) == ["food-unknown"]
    assert "core of chicken unknown for 10 min, counted as unsafe" in kitchen.told[-1][1]
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="food-unknown")
    assert "danger-zone" in kitchen.live(2 * HOUR, None)
    assert "of them unseen" in kitchen.told[-1][1]
    kitchen.live(HOUR, None)
    assert "Discard it" in [text for alarm, text in kitchen.told if alarm == "danger-zone"][-1]
    kitchen.live(600, 85.0, pot_c=110.0)
    assert kitchen.state("done") is AlarmState.NORMAL


def test_unseen_food_stays_latched_after_its_probe_is_back_until_the_pot_is_emptied() -> None:
    kitchen = Kitchen()
    kitchen.live(HOUR, 40.0)
    kitchen.live(900, None)
    kitchen.live(900, 45.0)
    assert kitchen.watch.records["food-unknown"].active
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="food-unknown")
    kitchen.told.clear()
    kitchen.live(HOUR, 45.0)
    assert "food-unknown" not in dict(kitchen.told)
    kitchen.happen(EventKind.UNLOAD)
    kitchen.live(90, None)
    assert kitchen.state("food-unknown") is AlarmState.NORMAL


@pytest.mark.parametrize("off_min", [5, 42])
def test_the_time_a_monitor_was_off_is_unsafe_and_is_said(off_min: int) -> None:
    kitchen = Kitchen()
    kitchen.live(2 * HOUR, 45.0)
    kitchen.restart(60.0 * off_min)
    told = kitchen.live(60, 45.0)
    safety = kitchen.watch.facts(kitchen.clock.moment()).safety
    assert safety is not None
    assert safety.course.danger_s == pytest.approx(2 * HOUR + 60 * off_min + 60, abs=1)
    assert safety.course.unknown_s == pytest.approx(60 * off_min + 20, abs=21)
    assert told == (["food-unknown"] if off_min == 42 else [])
    if told:
        assert "monitor was off for about 42 min (not certain)" in kitchen.told[-1][1]


def test_a_restart_forgets_nothing_of_what_the_food_went_through() -> None:
    kitchen = Kitchen()
    for core_c in (10.0, 35.0, 56.0, 63.0, 64.0):
        kitchen.live(400, core_c)
    before = kitchen.watch.facts(kitchen.clock.moment()).safety
    kitchen.restart(5.0)
    kitchen.live(20, 64.0)
    after = kitchen.watch.facts(kitchen.clock.moment()).safety
    assert before is not None
    assert after is not None
    assert 0.0 < before.course.killed <= after.course.killed < before.course.killed + 0.1
    assert after.course.danger_s == pytest.approx(before.course.danger_s, abs=1)


def test_a_restart_without_a_clock_ends_no_alarm_and_asks_to_measure() -> None:
    kitchen = Kitchen()
    kitchen.live(3 * HOUR + 60, 45.0)
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="danger-zone")
    old = kitchen.watch
    kitchen.clock = FakeClock(at("09:00") - timedelta(days=30), mono_s=20.0)
    kitchen.clock.trust(False)
    kitchen.watch = watch_at(kitchen.clock, kitchen.sky)
    kitchen.watch.restore(old.cook, old.records.values(), Memory())
    assert "food-unknown" in kitchen.live(300, 45.0)
    assert kitchen.watch.records["danger-zone"].active


def test_what_cools_in_the_pot_is_told_in_steps() -> None:
    kitchen = Kitchen()
    kitchen.live(600, 30.0)
    assert kitchen.live(400, 84.0, pot_c=110.0) == ["done"]
    for name in ("done", "hold", "cooling", "danger-zone"):
        kitchen.happen(EventKind.ACKNOWLEDGE, alarm=name)
    told = kitchen.live(HOUR, 84.0, to_c=56.0, pot_c=25.0)
    assert "hold" in told
    assert "Eat it by" in dict(kitchen.told)["hold"]
    kitchen.happen(EventKind.ACKNOWLEDGE, alarm="hold")
    told = kitchen.live(2 * HOUR, 56.0, to_c=40.0, pot_c=25.0)
    assert "cooling" in told
    assert "not below 21 °C within 2 h, now 40 °C" in dict(kitchen.told)["cooling"]
    told = kitchen.live(2 * HOUR, 40.0, to_c=30.0, pot_c=25.0)
    assert "danger-zone" in told
    assert "Discard it" in dict(kitchen.told)["danger-zone"]
    assert not kitchen.watch.records["done"].active  # nobody is called to eat it any more


def test_a_probe_in_a_fault_cannot_make_chicken_done() -> None:
    kitchen = Kitchen()
    kitchen.live(600, 30.0)
    assert kitchen.live(1200, 84.0, pot_c=110.0, faults=True) == []
    assert kitchen.live(120, 84.0, pot_c=110.0) == ["done"]


def test_a_probe_that_slips_into_the_hot_air_has_not_cooked_the_chicken() -> None:
    kitchen = Kitchen()
    kitchen.live(HOUR, 20.0, to_c=45.0, pot_c=110.0)
    assert "done" not in kitchen.live(1200, 105.0, pot_c=110.0)
    for restarted in (False, True):
        if restarted:
            kitchen.restart(5.0)
            kitchen.live(20, 105.0, pot_c=110.0)
        safety = kitchen.watch.facts(kitchen.clock.moment()).safety
        assert safety is not None
        assert (safety.core_c, safety.course.cooked, safety.course.killed) == (None, False, 0.0)
        assert safety.course.danger_s >= HOUR + 1200 - 2 * STEP_S


def test_bread_has_no_safety_to_speak_of() -> None:
    kitchen = Kitchen("bread")
    assert kitchen.live(4 * HOUR + 60, 40.0) == []
    assert kitchen.watch.facts(kitchen.clock.moment()).safety is None


def test_food_without_a_name_is_taken_for_the_worst() -> None:
    kitchen = Kitchen("")
    assert "danger-zone" in kitchen.live(3 * HOUR + 60, 40.0)


def test_another_load_is_judged_from_its_own_beginning() -> None:
    kitchen = Kitchen()
    kitchen.live(4 * HOUR + 60, 45.0)
    kitchen.happen(EventKind.UNLOAD)
    kitchen.happen(EventKind.LOAD, food="chicken")
    kitchen.told.clear()
    assert kitchen.live(HOUR, 45.0) == []
    assert kitchen.state("danger-zone") is AlarmState.NORMAL


@pytest.mark.parametrize("off_s", [None, 20.0])
def test_a_load_on_top_of_another_has_stood_for_as_long_as_that_one(off_s: float | None) -> None:
    """Nobody said that the first was taken out; after a restart nobody forgot it either."""
    kitchen = Kitchen()
    kitchen.live(2 * HOUR, 45.0)
    kitchen.happen(EventKind.LOAD, food="chicken")
    assert kitchen.live(0.5 * HOUR, 45.0) == []
    if off_s is not None:
        kitchen.restart(off_s)
    assert kitchen.live(0.5 * HOUR + 60, 45.0) == ["danger-zone"]
    assert "180 min at 5 °C to 57 °C" in kitchen.told[-1][1]


def test_raw_food_on_top_of_cooked_food_is_raw() -> None:
    kitchen = Kitchen()
    assert kitchen.live(HOUR, 10.0, to_c=85.0, pot_c=110.0) == ["done"]
    kitchen.happen(EventKind.LOAD, food="chicken")
    assert kitchen.live(1500, 30.0, to_c=58.0, pot_c=110.0) == []
    safety = kitchen.watch.facts(kitchen.clock.moment()).safety
    assert safety is not None
    assert not safety.course.cooked


@pytest.mark.parametrize("off_s", [None, 20.0])
def test_a_core_measured_by_hand_is_known_for_ten_minutes(off_s: float | None) -> None:
    kitchen = Kitchen()
    kitchen.live(600, 30.0)
    kitchen.live(500, None)
    kitchen.happen(EventKind.SPOT, core_c="62")
    if off_s is not None:
        kitchen.restart(off_s)
    assert kitchen.live(540, None) == []
    assert kitchen.live(100, None) == ["food-unknown"]
    kitchen.happen(EventKind.SPOT, core_c="62")
    assert kitchen.state("food-unknown") is AlarmState.ACKNOWLEDGED
    safety = kitchen.watch.facts(kitchen.clock.moment()).safety
    assert safety is not None
    assert safety.course.unknown_s > 1000


@pytest.mark.parametrize("alarm", sorted(ABOUT_HEALTH))
def test_no_command_puts_off_an_alarm_about_health(alarm: str) -> None:
    kitchen = Kitchen()
    kitchen.live(20, 45.0)
    with pytest.raises(CookError, match="guards people's health"):
        kitchen.happen(EventKind.SHELVE, alarm=alarm, minutes="30")


def replayed(rows: list[Row]) -> dict[str, list[tuple[str, str]]]:
    """What a replay says of each alarm about health: state and clock."""
    recording = Recording(Header(HILL, "box"), rows)
    station, limits = station_of(recording), limits_for(recording, RuleLimits())
    house = Household(station, HOUSE.foods, HOUSE.policies, limits, HOUSE.wording)
    said: dict[str, list[tuple[str, str]]] = {}
    for line in Replayer(recording, house, Daylight(HILL, SimpleSun()), 3600.0).run():
        if isinstance(line.said, AlarmRecord) and line.said.alarm in ABOUT_HEALTH:
            said.setdefault(line.said.alarm, []).append((line.said.state, f"{line.at:%H:%M}"))
    return said


def a_row_a_minute(core_c: float, since: str, until: str) -> list[Row]:
    begin, end = at(since), at(until)
    count = int((end - begin).total_seconds() // 60)
    return [
        Row(
            begin + timedelta(minutes=i),
            {
                Role.POT: core_c + 10 + STEP_K * (i % 3),
                Role.CORE: core_c + STEP_K * (i % 3),
                Role.AMBIENT: 25.0 + STEP_K * (i % 3),
            },
        )
        for i in range(count)
    ]


LOADED = Row(at("08:00"), {}, EventKind.LOAD, {"food": "chicken", "mass_kg": "1"})


def test_a_replay_says_the_same_of_chicken_at_45_degrees() -> None:
    said = replayed([LOADED, *a_row_a_minute(45.0, "08:00", "12:05")])
    raised = [clock for state, clock in said["danger-zone"] if state == "unacknowledged"]
    assert raised[0] == "11:00"
    assert "12:00" in raised
    assert said.keys() == {"danger-zone"}


def test_a_replay_counts_a_hole_in_the_recording_as_unsafe() -> None:
    rows = [
        LOADED,
        *a_row_a_minute(45.0, "08:00", "09:00"),
        *a_row_a_minute(45.0, "09:40", "11:05"),
    ]
    said = replayed(rows)
    assert said["food-unknown"][0] == ("unacknowledged", "09:10")
    assert said["danger-zone"][0] == ("unacknowledged", "11:00")
    assert "done" not in said
