"""A buzzer, a lamp and a push button on the pins of the Pi, by way of gpiozero."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

from noonpot.errors import NotifierError

BEEP_S = 0.15
LONG_BEEP_S = 1.0
BLINK_S = 0.5
BOUNCE_S = 0.02  # what a plain push button rattles (common practice, no source)


class Light(Enum):
    """How the lamp shines."""

    OFF = auto()
    BLINKING = auto()
    ON = auto()


@dataclass(frozen=True, slots=True)
class Pins:
    """Where things are wired, as GPIO numbers; None for what is not there."""

    buzzer: int | None = None
    lamp: int | None = None
    button: int | None = None


class Panel:
    """What is wired there. Nothing here waits: beeps and blinking have threads of gpiozero's.

    ``pressed`` and ``released`` are called in such a thread. ``factory`` is gpiozero's way to the
    pins; None finds it.
    """

    def __init__(
        self,
        pins: Pins,
        pressed: Callable[[], None],
        released: Callable[[], None],
        factory: object | None = None,
    ) -> None:
        """Raises NotifierError when the library is missing or a pin cannot be had."""
        try:
            import gpiozero
        except ImportError:
            raise NotifierError(
                "signals: the library for the pins is not installed; "
                "run: pip install 'noonpot[signals]'"
            ) from None
        self._buzzer: Any = None
        self._lamp: Any = None
        self._button: Any = None
        try:
            with warnings.catch_warnings(action="ignore"):  # it tries several ways and says so
                if pins.buzzer is not None:
                    self._buzzer = gpiozero.Buzzer(pins.buzzer, pin_factory=factory)
                if pins.lamp is not None:
                    self._lamp = gpiozero.LED(pins.lamp, pin_factory=factory)
                if pins.button is not None:
                    self._button = gpiozero.Button(
                        pins.button, bounce_time=BOUNCE_S, pin_factory=factory
                    )
                    self._button.when_pressed = pressed
                    self._button.when_released = released
        except Exception as error:  # each way to the pins has errors of its own
            self.close()
            reason = str(error).rstrip("!. ")
            raise NotifierError(
                f"signals: the pins cannot be used: {reason}; check their numbers, that no other "
                "program has them, and that this user is in the group gpio"
            ) from error

    def beep(self, times: int) -> None:
        """Beep so often; a beep that is under way is cut off."""
        if self._buzzer is not None:
            self._buzzer.beep(BEEP_S, BEEP_S, n=times)

    def long_beep(self) -> None:
        """One long beep."""
        if self._buzzer is not None:
            self._buzzer.beep(LONG_BEEP_S, 0, n=1)

    def shine(self, light: Light) -> None:
        """Switch the lamp."""
        if self._lamp is None:
            return
        match light:
            case Light.OFF:
                self._lamp.off()
            case Light.ON:
                self._lamp.on()
            case Light.BLINKING:
                self._lamp.blink(BLINK_S, BLINK_S)

    def close(self) -> None:
        """Switch all off and give the pins back."""
        self.shine(Light.OFF)
        if self._buzzer is not None:
            self._buzzer.off()
        for device in (self._buzzer, self._lamp, self._button):
            if device is not None:
                device.close()
