"""Every alarm in every state: no data clears it, and a killed daemon takes it up where it was."""

import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fakes import FakeClock
from faults.extent import FULL, Tell
from faults.holding import HOLDING, silent
from faults.lives import BEGIN, STATES, all_records, record, watches
from noonpot.core.alarms import AlarmRecord, AlarmState, fresh, step
from noonpot.core.facts import Case, Facts
from noonpot.core.moment import Moment
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Reading
from noonpot.core.rules import DEFAULT_POLICIES, RULES, evaluate
from noonpot.core.wording import Wording
from noonpot.engine.memory import Memory
from noonpot.store.sqlite import Store
from store.shelf import ENVIRONMENT

LIVES = Path(__file__).with_name("lives.py")
SILENT_S, STEP_S = 86_400.0 if FULL else 3600.0, 20.0
SILENT_FOR_S = 400.0  # long enough for `no-news`
EACH = len(STATES) * len(RULES)


def case_of(facts: Facts, mine: AlarmRecord) -> Case:
    """A look at the facts with this alarm as it stands; overdone food is done."""
    records = {name: fresh("box", name, Moment(BEGIN, 0.0)) for name in RULES}
    if mine.alarm == "overdone":
        records["done"] = replace(records["done"], state=AlarmState.ACKNOWLEDGED)
    return Case(facts, records | {mine.alarm: mine}, DEFAULT_POLICIES, RuleLimits(), Wording())


def looked_at(mine: AlarmRecord, facts: Facts) -> AlarmRecord:
    """The alarm after one look."""
    case = case_of(facts, mine)
    now = Moment(facts.at, facts.mono_s)
    return step(mine, evaluate(case)[mine.alarm], now, case.policy(mine.alarm))


def test_no_alarm_in_no_state_is_over_for_want_of_data(figure: Tell) -> None:
    assert HOLDING.keys() == RULES.keys()
    over, fallen_silent = [], 0
    for state in STATES:
        for alarm, facts in HOLDING.items():
            mine = record("box", alarm, state, Moment(facts.at, facts.mono_s))
            assert evaluate(case_of(facts, mine))[alarm].active, alarm
            fallen_silent += mine.active
            for turn in range(1, int(SILENT_S / STEP_S)):
                before, mine = mine, looked_at(mine, silent(facts, turn * STEP_S))
                if before.active and not mine.active:
                    over.append((alarm, state))
    figure(
        15,
        f"alarms that hold, by alarm and state, then {SILENT_S / 3600:.0f} h without any data",
        f"{len(over)} of {fallen_silent} over",
        "0",
    )
    assert over == []
    assert fallen_silent >= 4 * len(RULES)


@pytest.mark.parametrize("alarm", ["preheated", "boil-dry", "hold", "probe", "lid", "no-news"])
def test_with_good_data_an_alarm_is_over(alarm: str) -> None:
    """So the test above could fail."""
    held = HOLDING[alarm]
    mine = record("box", alarm, AlarmState.ACKNOWLEDGED, Moment(held.at, held.mono_s))
    safety = held.safety and replace(held.safety, core_c=70.0)
    well = replace(held, pot_c=60.0, core_c=70.0, faults=(), signs=(), silent_s=2.0, safety=safety)
    for turn in range(1, 60):
        at = well.at + timedelta(seconds=turn * STEP_S)
        mine = looked_at(mine, replace(well, at=at, mono_s=turn * STEP_S))
    assert mine.state is AlarmState.NORMAL


@pytest.mark.parametrize("off_s", [0.0, 45.0])
def test_a_kill_in_any_state_of_any_alarm_changes_neither_state_nor_timers(
    tmp_path: Path, figure: Tell, off_s: float
) -> None:
    path = tmp_path / "noonpot.db"
    command = [sys.executable, str(LIVES), str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT) as life:
        assert life.stdout is not None
        assert life.stdout.readline() == "stored\n"
        life.kill()
    before = all_records(FakeClock(BEGIN).moment())
    clock = FakeClock(BEGIN + timedelta(seconds=off_s), mono_s=1000.0 + off_s)
    if off_s:  # the machine was off as well
        clock = FakeClock(clock.moment().at, mono_s=20.0)
        clock.boot_id = "boot-2"
    with Store(path, clock) as store:
        after = {(r.cooker, r.alarm): r for r in store.alarm_records()}
    shift_s = clock.moment().mono_s - 1000.0 - off_s
    worst_s = max(error_s(old, after[old.cooker, old.alarm], shift_s) for old in before)
    repeats = repeated(clock, after.values())
    figure(
        16,
        f"{EACH} alarms by state, killed and {'rebooted' if off_s else 'started anew'}",
        f"same states, timers off by {worst_s:.2f} s, {len(repeats)} repeats of acknowledged ones",
        "same, <= 1 s, 0",
    )
    assert len(after) == len(before) == EACH
    assert worst_s <= 1.0
    assert repeats == []


def error_s(old: AlarmRecord, new: AlarmRecord, shift_s: float) -> float:
    """By how much a timer is off at the worst [s]; all else must be the same."""
    timers = ("rising_s", "falling_s", "told_s", "until_s")
    blank = dict.fromkeys(timers)
    assert replace(old, since=new.since, **blank) == replace(new, **blank)  # type: ignore[arg-type]
    off = [new.since.mono_s - old.since.mono_s - shift_s]
    for timer in timers:
        was, found = getattr(old, timer), getattr(new, timer)
        assert (was is None) is (found is None), timer
        off.append(0.0 if was is None else found - was - shift_s)
    return max(abs(each) for each in off)


def repeated(clock: FakeClock, records: Iterable[AlarmRecord]) -> Sequence[str]:
    """What is told of acknowledged alarms in the ten minutes after the restart."""
    watch = list(watches(clock))[STATES.index(AlarmState.ACKNOWLEDGED)]
    now = clock.moment()
    last = Reading(
        "box-core", now.at - timedelta(seconds=SILENT_FOR_S), now.mono_s - SILENT_FOR_S, 30
    )
    mine = [r for r in records if r.cooker == watch.cooker.name]
    watch.restore(watch.cook, mine, Memory(samples=[last]))
    told: list[str] = []
    for _ in range(30):
        told += [a.alarm for a in watch.step(clock.advance(STEP_S)).alarms.alerts]
    return told
