"""All the ways to reach people, each with its thread, and why one of them reaches nobody."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from noonpot.core.moment import Moment
from noonpot.engine.crew import Crew
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.gathering import Gathering, Pace
from noonpot.engine.handover import Handover
from noonpot.notify.mqtt import MqttNotifier
from noonpot.notify.push import PushNotifier
from noonpot.ports import Clock, Health, Notifier, Outbox, Signal
from noonpot.settings.values import PushAccess

STOP_S = 5.0


class Messengers:
    """A dispatcher and a thread for each notifier. Push services get their messages gathered, at
    the pace of their section; the others get each by itself, at once.
    """

    def __init__(
        self,
        notifiers: Sequence[Notifier],
        push: PushAccess | None,
        outbox: Outbox,
        clock: Clock,
        health: Health,
        stop: Signal,
    ) -> None:
        self._notifiers = notifiers
        self._desks = [
            (n, Dispatcher(n, outbox, clock, health, _gathering(n, push))) for n in notifiers
        ]
        self._crew = Crew({f"tell-{n.channel}": desk.run for n, desk in self._desks}, stop, health)

    @property
    def brisk(self) -> Sequence[Notifier]:
        """All of them, none of which keeps its caller waiting for long."""
        return [Handover(desk) if isinstance(n, PushNotifier) else n for n, desk in self._desks]

    def lines(self) -> Mapping[str, Callable[[], str]]:
        """Whoever leads out of the house, by channel: why it reaches nobody now, "" if it does."""
        lines: dict[str, Callable[[], str]] = {}
        for notifier, desk in self._desks:
            if isinstance(notifier, MqttNotifier):
                lines[notifier.channel] = partial(_mqtt_trouble, notifier, desk)
            elif isinstance(notifier, PushNotifier):
                lines[notifier.channel] = partial(_push_trouble, desk)
        return lines

    def start(self) -> None:
        """Begin to tell."""
        self._crew.start()

    def heal(self) -> None:
        """Replace threads that died; call it every few seconds."""
        self._crew.heal()

    def kick(self) -> None:
        """Wake them: alerts wait, a channel came back, or it is time to stop."""
        for _, desk in self._desks:
            desk.kick()

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Make a state visible wherever states are shown."""
        for notifier in self._notifiers:
            notifier.show(topic, payload)

    def stalled(self, now: Moment) -> list[str]:
        """The channels whose thread hangs."""
        return [desk.channel for _, desk in self._desks if desk.stalled(now)]

    def join(self) -> None:
        """Wait for the threads once the signal to stop is given. A push that is under way is ended,
        because it may take longer than a stop: after the next start it is told again.
        """
        self.kick()
        for notifier in self._notifiers:
            if isinstance(notifier, PushNotifier):
                notifier.close()
        self._crew.join(STOP_S)


def _gathering(notifier: Notifier, push: PushAccess | None) -> Gathering | None:
    if push is None or not isinstance(notifier, PushNotifier):
        return None
    return Gathering(Pace(push.gather_s, push.spacing_s, push.least))


def _mqtt_trouble(notifier: MqttNotifier, desk: Dispatcher) -> str:
    """A broker that cannot be reached, or one that lets us in and takes nothing."""
    problem = notifier.problem
    return problem.text if problem is not None else desk.failure


def _push_trouble(desk: Dispatcher) -> str:
    """A push service is asked nothing between two messages, so the last one counts."""
    return desk.trouble
