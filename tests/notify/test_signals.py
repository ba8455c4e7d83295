"""Buzzer, lamp and button on the mock pins that gpiozero brings along.

A pin of a Pi reads 1 at 3.3 V. The button joins its pin to ground, so pressed is 0.
"""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from gpiozero.pins.mock import MockFactory

from broker import until
from fakes import FakeClock
from noonpot.core.alert import Priority
from noonpot.core.cook import Aim, Event, EventKind
from noonpot.errors import NotifierError, StoreError
from noonpot.notify.panel import Panel, Pins
from noonpot.notify.signals import BEEPS, LONG_PRESS_S, STUCK_S, Signals
from noonpot.ports import Health, Outcome
from stations import ALERT

BUZZER, LAMP, BUTTON = 17, 27, 22
SUN = Aim(140.04, 58.2)


@dataclass
class Bench:
    """Things on mock pins, and the signals that use them."""

    factory: Any = field(default_factory=MockFactory)
    clock: FakeClock = field(default_factory=FakeClock)
    health: Health = field(default_factory=Health)
    said: list[Event] = field(default_factory=list)
    sun: Aim | None = SUN
    broken: bool = False
    pins: Pins = field(default_factory=lambda: Pins(BUZZER, LAMP, BUTTON))
    least: Priority = Priority.HIGH

    def signals(self) -> Signals:
        return Signals(
            lambda pressed, released: Panel(self.pins, pressed, released, self.factory),
            self.clock,
            self.health,
            sun=lambda: self.sun,
            hand_in=self._take,
            least=self.least,
        )

    def _take(self, event: Event) -> None:
        if self.broken:
            raise StoreError("the card is full")
        self.said.append(event)

    def press(self, seconds: float) -> None:
        """A finger on the button."""
        pin = self.factory.pin(BUTTON)
        pin.drive_low()
        self.clock.advance(seconds)
        pin.drive_high()

    def beeps(self) -> int:
        """How often the buzzer has sounded so far."""
        return sum(bool(state.state) for state in self.factory.pin(BUZZER).states)

    def lit(self) -> bool:
        return bool(self.factory.pin(LAMP).state)


@pytest.fixture
def bench() -> Bench:
    return Bench()


@pytest.fixture
def signals(bench: Bench) -> Iterator[Signals]:
    made = bench.signals()
    yield made
    made.close()


def stands(signals: Signals, alarm: str, state: str, cooker: str = "box") -> None:
    signals.show(f"{cooker}/alarm/{alarm}", {"state": state})


@pytest.mark.parametrize("priority", [Priority.MEDIUM, Priority.HIGH])
def test_an_alert_sounds_as_often_as_it_is_urgent(bench: Bench, priority: Priority) -> None:
    bench.least = Priority.LOW
    signals = bench.signals()
    assert signals.tell(replace(ALERT, priority=priority)).outcome is Outcome.SENT
    until(lambda: bench.beeps() == BEEPS[priority], "all beeps")
    signals.close()
    assert bench.beeps() == BEEPS[priority]


def test_what_is_less_important_does_not_sound_and_is_settled(
    bench: Bench, signals: Signals
) -> None:
    assert signals.tell(replace(ALERT, priority=Priority.MEDIUM)).outcome is Outcome.SENT
    assert bench.beeps() == 0


def test_the_lamp_blinks_until_somebody_answers_and_shines_while_the_alarm_stands(
    bench: Bench, signals: Signals
) -> None:
    assert not bench.lit()
    stands(signals, "done", "unacknowledged")
    until(bench.lit, "the lamp goes on")
    until(lambda: not bench.lit(), "and off again")
    stands(signals, "done", "acknowledged")
    assert bench.lit()
    stands(signals, "turn", "returned-unacknowledged")
    until(lambda: not bench.lit(), "it blinks again")
    stands(signals, "turn", "normal")
    assert bench.lit()
    stands(signals, "done", "normal")
    assert not bench.lit()


@pytest.mark.parametrize("state", ["shelved", "suppressed", "normal"])
def test_the_lamp_is_dark_while_nothing_waits_and_nothing_stands(
    bench: Bench, signals: Signals, state: str
) -> None:
    stands(signals, "done", state)
    signals.show("box/now", {"pot_c": 98.5})
    assert len(bench.factory.pin(LAMP).states) <= 1


def test_a_short_press_acknowledges_all_that_waits_for_an_answer(
    bench: Bench, signals: Signals
) -> None:
    stands(signals, "done", "unacknowledged")
    stands(signals, "turn", "returned-unacknowledged", "iron")
    stands(signals, "probe", "acknowledged")
    stands(signals, "no-news", "shelved")
    bench.press(0.3)
    at = bench.clock.moment().at
    assert bench.said == [
        Event("box", at, EventKind.ACKNOWLEDGE, {"alarm": "done"}),
        Event("iron", at, EventKind.ACKNOWLEDGE, {"alarm": "turn"}),
    ]
    until(lambda: bench.beeps() == 1, "the button is answered")


def test_a_long_press_aims_at_the_sun_what_was_to_be_turned(bench: Bench, signals: Signals) -> None:
    stands(signals, "turn", "unacknowledged", "box")
    stands(signals, "turn", "acknowledged", "iron")
    stands(signals, "turn", "normal", "tin")
    stands(signals, "done", "unacknowledged", "tin")
    bench.press(LONG_PRESS_S)
    where = {"azimuth": "140.0", "elevation": "58.2"}
    at = bench.clock.moment().at
    assert bench.said == [
        Event("box", at, EventKind.AIM, where),
        Event("iron", at, EventKind.AIM, where),
    ]
    until(lambda: bench.beeps() == 2, "the button is answered")


@pytest.mark.usefixtures("signals")
@pytest.mark.parametrize("held_s", [0.3, LONG_PRESS_S])
def test_a_press_that_finds_nothing_to_do_gets_one_beep_and_says_nothing(
    bench: Bench, held_s: float
) -> None:
    bench.press(held_s)
    until(lambda: bench.beeps() == 1, "the long beep")
    assert bench.said == []


def test_nobody_turns_to_a_sun_that_is_not_known(bench: Bench, signals: Signals) -> None:
    bench.sun = None
    stands(signals, "turn", "unacknowledged")
    bench.press(LONG_PRESS_S)
    assert bench.said == []


def test_a_stone_on_the_button_is_no_finger(bench: Bench, signals: Signals) -> None:
    stands(signals, "turn", "unacknowledged")
    bench.press(STUCK_S)
    assert bench.said == []
    assert bench.health.counts == {"signals-stuck": 1}


def test_a_word_that_cannot_be_written_down_is_counted_and_the_button_lives_on(
    bench: Bench, signals: Signals
) -> None:
    stands(signals, "done", "unacknowledged")
    bench.broken = True
    bench.press(0.3)
    assert bench.health.counts == {"signals-lost": 1}
    bench.broken = False
    bench.press(0.3)
    assert len(bench.said) == 1


def test_a_button_without_buzzer_and_lamp_works(bench: Bench) -> None:
    bench.pins = Pins(button=BUTTON)
    signals = bench.signals()
    stands(signals, "done", "unacknowledged")
    assert signals.tell(ALERT).outcome is Outcome.SENT
    bench.press(0.3)
    assert len(bench.said) == 1
    signals.close()


def test_pins_that_cannot_be_had_are_named_and_tried_again(bench: Bench) -> None:
    bench.pins = Pins(buzzer=99)
    signals = bench.signals()
    stands(signals, "done", "unacknowledged")
    delivery = signals.tell(ALERT)
    assert delivery.outcome is Outcome.RETRY
    assert "99" in delivery.reason
    assert "group gpio" in delivery.reason
    bench.pins = Pins(BUZZER, LAMP)
    assert signals.tell(ALERT).outcome is Outcome.SENT
    until(bench.lit, "the lamp shows what stood before")
    signals.close()


def test_a_pin_that_fails_later_disturbs_nobody(bench: Bench, signals: Signals) -> None:
    bench.factory.pin(LAMP).function = "input"  # another program took it
    stands(signals, "done", "acknowledged")
    assert bench.health.counts == {"signals-errors": 1}


def test_two_things_on_one_pin_are_refused(bench: Bench) -> None:
    bench.pins = Pins(buzzer=BUZZER, lamp=BUZZER)
    with pytest.raises(NotifierError, match="pins cannot be used"):
        Panel(bench.pins, lambda: None, lambda: None, bench.factory)
    Panel(Pins(buzzer=BUZZER), lambda: None, lambda: None, bench.factory).close()


def test_closing_switches_all_off_and_leaves_no_thread(bench: Bench) -> None:
    before = set(threading.enumerate())
    signals = bench.signals()
    stands(signals, "done", "unacknowledged")
    signals.tell(replace(ALERT, priority=Priority.URGENT))
    until(bench.lit, "the lamp goes on")
    signals.close()
    assert set(threading.enumerate()) <= before
    for number in (LAMP, BUZZER):
        pin = bench.factory.pin(number)
        assert (pin.state, pin.function) == (False, "input")
