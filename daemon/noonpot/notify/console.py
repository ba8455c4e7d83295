"""Telling on a terminal, or in the journal of the service."""

from collections.abc import Mapping
from typing import TextIO

from noonpot.core.alert import Alert
from noonpot.core.moment import iso
from noonpot.ports import Delivery, Outcome


class ConsoleNotifier:
    """Prints one line for each alert."""

    channel = "console"

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def tell(self, alert: Alert) -> Delivery:
        """Print the alert. A full disk behind the stream may heal, a closed stream does not."""
        text = " ".join(alert.text.split())
        try:
            print(f"{iso(alert.at)} {alert.priority}: {text}", file=self._stream, flush=True)
        except OSError as exc:
            return Delivery(Outcome.RETRY, f"the output cannot be written: {exc}")
        except ValueError as exc:
            return Delivery(Outcome.REFUSED, f"the output is closed: {exc}")
        return Delivery(Outcome.SENT)

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """States are not printed: a terminal keeps every line, and they come every minute."""

    def close(self) -> None:
        """The stream belongs to whoever gave it."""
