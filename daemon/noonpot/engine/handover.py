"""A slow channel for whoever must not wait: what it is given is told in a thread of its own."""

from collections.abc import Mapping

from noonpot.core.alert import Alert
from noonpot.engine.dispatcher import Dispatcher
from noonpot.ports import Delivery, Outcome


class Handover:
    """A notifier that takes an alert at once. Not for states, which slow channels do not show."""

    def __init__(self, dispatcher: Dispatcher) -> None:
        self._dispatcher = dispatcher

    @property
    def channel(self) -> str:
        """That of the dispatcher."""
        return self._dispatcher.channel

    def tell(self, alert: Alert) -> Delivery:
        """Leave the alert to the dispatcher, which outlives any trouble of the channel."""
        self._dispatcher.hand(alert)
        return Delivery(Outcome.SENT)

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Nothing is shown."""

    def close(self) -> None:
        """The channel belongs to whoever made it."""
