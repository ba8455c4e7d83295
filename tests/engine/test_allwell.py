"""All is well: once in a long silent cook, and never while something is wrong."""

from datetime import timedelta

from engine.kitchen import event, morning, reading, watch_at
from fakes import FakeClock
from noonpot.core.alert import Alert, Priority
from noonpot.core.cook import EventKind
from noonpot.core.readings import Fault, FaultKind
from noonpot.core.wording import PHONE_LENGTH, Wording
from noonpot.engine.allwell import AllWell
from noonpot.engine.watch import Watch

AFTER_S = 3 * 3600.0


class Kitchen:
    """A cook that goes on, and somebody who listens to its silence."""

    def __init__(self, after_s: float = AFTER_S) -> None:
        self.clock: FakeClock = morning()
        self.watch: Watch = watch_at(self.clock)
        self.watch.take(event(EventKind.START, self.clock.moment()), self.clock.moment())
        self.all_well = AllWell("garden", Wording(), after_s)

    def look(self, seconds: float, pot_c: float | None = 60.0) -> Alert | None:
        now = self.clock.advance(seconds)
        if pot_c is not None:
            self.watch.step(now, [reading("box-pot", now, pot_c)])
        return self.all_well.due(self.watch, now)


def test_after_a_long_silence_all_is_well() -> None:
    kitchen = Kitchen()
    assert kitchen.look(0) is None
    assert kitchen.look(AFTER_S - 1) is None
    told = kitchen.look(1)
    assert told is not None
    assert told.text == "box: all is well at 12:00, pot 60 °C. Nothing to do."
    assert len(told.text) <= PHONE_LENGTH
    assert (told.priority, told.alarm) == (Priority.LOW, "all-well")
    assert told.expires_at - told.at == timedelta(minutes=30)


def test_whatever_is_told_begins_the_silence_anew() -> None:
    kitchen = Kitchen()
    kitchen.look(0)
    kitchen.look(AFTER_S - 1)
    kitchen.all_well.heard()
    assert kitchen.look(1) is None
    assert kitchen.look(AFTER_S - 1) is None
    assert kitchen.look(1) is not None


def test_in_one_cook_it_is_always_the_same_message_which_an_outbox_takes_once() -> None:
    kitchen, again = Kitchen(), Kitchen()
    for one in (kitchen, again):
        one.look(0)
    first, _, second = kitchen.look(AFTER_S), kitchen.look(0), kitchen.look(AFTER_S)
    restarted = again.look(AFTER_S)
    assert first is not None
    assert second is not None
    assert restarted is not None
    assert first.id == second.id == restarted.id


def test_it_is_not_well_while_a_probe_is_silent_or_faulty() -> None:
    kitchen = Kitchen()
    kitchen.look(0)
    assert kitchen.look(AFTER_S, pot_c=None) is None
    now = kitchen.clock.moment()
    fault = Fault("box-pot", now.at, now.mono_s, FaultKind.NOT_ANSWERING)
    kitchen.watch.step(now, [reading("box-pot", now, 60.0)], [fault])
    assert kitchen.all_well.due(kitchen.watch, now) is None
    assert kitchen.look(1) is not None


def test_it_is_not_well_while_an_alarm_holds() -> None:
    kitchen = Kitchen()
    kitchen.look(0)
    assert kitchen.look(400, pot_c=None) is None
    kitchen.watch.step(kitchen.clock.moment())
    assert kitchen.watch.records["no-news"].active
    assert kitchen.all_well.due(kitchen.watch, kitchen.clock.advance(AFTER_S)) is None


def test_without_a_cook_and_when_unwanted_nothing_is_said() -> None:
    unwanted = Kitchen(after_s=0)
    unwanted.look(0)
    assert unwanted.look(AFTER_S) is None
    over = Kitchen()
    over.look(0)
    over.watch.take(event(EventKind.STOP, over.clock.moment()), over.clock.moment())
    assert over.look(AFTER_S) is None
