"""The section [signals]: a buzzer, a lamp and a push button."""

from collections import Counter
from typing import Annotated, Literal

from pydantic import AfterValidator

from noonpot.core.alert import Priority
from noonpot.settings.schema import Section
from noonpot.settings.values import LocalSignals
from noonpot.settings.words import Wants

# Without those that 1-Wire, I²C, SPI and the serial port use.
FREE_PINS = (5, 6, 12, 13, *range(16, 28))


def _free(pin: int) -> int:
    if pin not in FREE_PINS:
        raise ValueError
    return pin


Pin = Annotated[int, AfterValidator(_free)]
GPIO = Wants(
    "a GPIO number: 5, 6, 12, 13 or 16 to 27",
    "the number beside the pin in hardware/README.md, not that of the pin",
)


class SignalsSection(Section):
    """[signals]: what is wired to the pins of the Pi."""

    buzzer: Annotated[Pin | None, GPIO] = None
    lamp: Annotated[Pin | None, GPIO] = None
    button: Annotated[Pin | None, GPIO] = None
    min_priority: Annotated[
        Literal["low", "medium", "high", "urgent"],
        Wants('"low", "medium", "high" or "urgent"', "choose the least that shall sound"),
    ] = "high"


def local_signals(section: SignalsSection, mistakes: list[str]) -> LocalSignals:
    """The section as values; what does not fit together is added to the mistakes."""
    pins = [pin for pin in (section.buzzer, section.lamp, section.button) if pin is not None]
    if not pins:
        mistakes.append("[signals] names no pin; give buzzer, lamp or button, or delete it")
    for pin, times in Counter(pins).items():
        if times > 1:
            mistakes.append(
                f"signals: GPIO{pin} is there {times} times; give each a pin of its own"
            )
    return LocalSignals(
        section.buzzer, section.lamp, section.button, Priority(section.min_priority)
    )
