"""Telling and hearing at the cookers themselves: a buzzer, a lamp, one push button.

The lamp blinks while an alarm waits for an answer, and shines while one stands that was answered.
The button is for wet hands: a short press says "I know", a long one "I turned it to the sun".
"""

import logging
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from noonpot.core.alarms import AlarmState
from noonpot.core.alert import Alert, Priority
from noonpot.core.cook import Aim, Event, EventKind
from noonpot.errors import NoonpotError, NotifierError
from noonpot.notify.panel import Light, Panel
from noonpot.ports import Clock, Delivery, Health, Outcome

log = logging.getLogger(__name__)

LONG_PRESS_S = 1.5  # our choice: longer than anybody presses by the way
STUCK_S = 10.0  # our choice: that is no finger, but water or a stone
BEEPS = {Priority.LOW: 1, Priority.MEDIUM: 2, Priority.HIGH: 3, Priority.URGENT: 8}
NOTED, TURNED = 1, 2  # beeps
UNANSWERED = {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED}
STANDING = {AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED}

OpenPanel = Callable[[Callable[[], None], Callable[[], None]], Panel]


class Signals:
    """One of the ways to reach people, and one of the ways they answer.

    ``sun`` says where the sun is, None while that is not known; ``hand_in`` brings in what the
    button says, and raises StoreError when it cannot. Alerts of ``least`` priority and above sound.
    Pins that cannot be had are tried again with every alert.
    """

    channel = "signals"

    def __init__(
        self,
        open_panel: OpenPanel,
        clock: Clock,
        health: Health,
        *,
        sun: Callable[[], Aim | None],
        hand_in: Callable[[Event], object],
        least: Priority = Priority.HIGH,
    ) -> None:
        self._open_panel = open_panel
        self._clock = clock
        self._health = health
        self._sun = sun
        self._hand_in = hand_in
        self._least = least
        self._lock = threading.Lock()
        self._states: dict[tuple[str, str], AlarmState] = {}
        self._light = Light.OFF
        self._pressed_s: float | None = None
        self._panel: Panel | None = None
        try:
            self._opened()
        except NotifierError as error:
            log.warning("%s", error)

    def tell(self, alert: Alert) -> Delivery:
        """Beep, the more often the more urgent."""
        if alert.priority.rank >= self._least.rank:
            try:
                self._opened().beep(BEEPS[alert.priority])
            except NotifierError as error:
                return Delivery(Outcome.RETRY, str(error))
        return Delivery(Outcome.SENT)

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Keep in mind how an alarm stands, and let the lamp show it. Other states it cannot."""
        cooker, _, alarm = topic.partition("/alarm/")
        if not alarm:
            return
        with self._lock:
            self._states[cooker, alarm] = AlarmState(str(payload["state"]))
            light = self._wanted_light()
            changed, self._light = light is not self._light, light
        if changed and self._panel is not None:
            with self._contained():
                self._panel.shine(light)

    def close(self) -> None:
        """Switch all off and give the pins back."""
        if self._panel is not None:
            with self._contained():
                self._panel.close()

    def _opened(self) -> Panel:
        if self._panel is None:
            self._panel = self._open_panel(self._press, self._release)
            self._panel.shine(self._light)
        return self._panel

    def _wanted_light(self) -> Light:
        states = set(self._states.values())
        if states & UNANSWERED:
            return Light.BLINKING
        return Light.ON if states & STANDING else Light.OFF

    def _press(self) -> None:
        self._pressed_s = self._clock.moment().mono_s

    def _release(self) -> None:
        """Do what the press says. Called in a thread of the library's, which must live on."""
        pressed_s, self._pressed_s = self._pressed_s, None
        if pressed_s is None or self._panel is None:
            return
        held_s = self._clock.moment().mono_s - pressed_s
        if held_s >= STUCK_S:
            self._health.count("signals-stuck")
            return
        try:
            beeps = self._turned() if held_s >= LONG_PRESS_S else self._noted()
        except NoonpotError as error:
            log.warning("the button's word is lost: %s", error)
            self._health.count("signals-lost")
            beeps = 0
        with self._contained():
            self._panel.beep(beeps) if beeps else self._panel.long_beep()

    def _noted(self) -> int:
        """Acknowledge all that waits for an answer. Returns how often to beep, 0 for in vain."""
        with self._lock:
            waiting = [key for key, state in self._states.items() if state in UNANSWERED]
        for cooker, alarm in waiting:
            self._say(cooker, EventKind.ACKNOWLEDGE, {"alarm": alarm})
        return NOTED if waiting else 0

    def _turned(self) -> int:
        """Aim at the sun the cookers that were to be turned. Returns how often to beep."""
        with self._lock:
            asked = [
                cooker
                for (cooker, alarm), state in self._states.items()
                if alarm == "turn" and state in STANDING
            ]
        aim = self._sun()
        if aim is None or not asked:
            return 0
        where = {"azimuth": f"{aim.azimuth_deg:.1f}", "elevation": f"{aim.elevation_deg:.1f}"}
        for cooker in asked:
            self._say(cooker, EventKind.AIM, where)
        return TURNED

    def _say(self, cooker: str, kind: EventKind, detail: Mapping[str, str]) -> None:
        self._hand_in(Event(cooker, self._clock.moment().at, kind, detail))

    @contextmanager
    def _contained(self) -> Iterator[None]:
        """Let no failing pin disturb the watch."""
        try:
            yield
        except Exception as error:  # noqa: BLE001 - each way to the pins has errors of its own
            log.warning("signals: a pin fails: %s", error)
            self._health.count("signals-errors")
