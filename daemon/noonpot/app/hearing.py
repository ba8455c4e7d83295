"""How the running daemon hears people: from the phone, and by the button at the cookers. Both hand
letters in, as the command line does; who used the phone gets an answer.
"""

from collections.abc import Callable, Sequence

from noonpot.core.alert import Answer
from noonpot.core.cook import Aim, Event
from noonpot.core.orders import Known
from noonpot.core.stationfacts import OWN
from noonpot.notify.commands import Commands, came_of
from noonpot.notify.panel import Panel, Pins
from noonpot.notify.signals import Signals
from noonpot.ports import Clock, Health, Inbox, Letter
from noonpot.settings.values import Settings
from noonpot.store.inbox import hand_in

INBOX = "inbox"


class AnsweringInbox:
    """An inbox that also tells whoever used the phone what came of it."""

    def __init__(self, inbox: Inbox, answer: Callable[[Answer], None]) -> None:
        self._inbox = inbox
        self._answer = answer

    def take(self) -> Sequence[Letter]:
        """All letters that wait, oldest first."""
        return self._inbox.take()

    def done(self, letter: Letter) -> None:
        """The event is in the store: put the letter away, and say so."""
        self._inbox.done(letter)
        self._tell(letter, "")

    def refuse(self, letter: Letter, reason: str) -> None:
        """The event does not fit: keep the letter aside, and say why."""
        self._inbox.refuse(letter, reason)
        self._tell(letter, reason)

    def _tell(self, letter: Letter, reason: str) -> None:
        answer = came_of(letter, reason)
        if answer is not None:
            self._answer(answer)


def commands(
    settings: Settings, clock: Clock, health: Health, wake: Callable[[], None]
) -> Commands | None:
    """The commands from the phone, None while there is no token for them."""
    token = settings.mqtt and settings.mqtt.command_token
    if not token:
        return None
    known = Known(
        cookers=[*(cooker.name for cooker in settings.station.cookers), OWN],
        alarms=settings.policies,
        foods=settings.foods,
    )

    def take(event: Event, name: str) -> None:
        hand_in(settings.data / INBOX, event, name, clock)
        wake()

    return Commands(settings.station.name, token, known, clock, health, take)


def signals(
    settings: Settings,
    clock: Clock,
    health: Health,
    *,
    sun: Callable[[], Aim | None],
    wake: Callable[[], None],
) -> Signals | None:
    """Buzzer, lamp and button, None when nothing is wired."""
    wired = settings.signals
    if wired is None:
        return None
    pins = Pins(wired.buzzer, wired.lamp, wired.button)

    def take(event: Event) -> None:
        hand_in(settings.data / INBOX, event, clock=clock)
        wake()

    return Signals(
        lambda pressed, released: Panel(pins, pressed, released),
        clock,
        health,
        sun=sun,
        hand_in=take,
        least=wired.least,
    )
