"""The short-lived process that pushes: it alone imports apprise, and may be ended at any time.

It reads one order as JSON from standard input, so that no address, which is a secret, shows in the
list of processes. It answers with one line of JSON for each service, as soon as that is settled:
its number, the outcome, and words of our own, which name no address either.
"""

import json
import os
import sys
import threading
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

CONNECT_S = 8.0
ANSWER_S = 20.0  # the library's own 4 s are short for a small service on a slow line
KINDS = {"urgent": "failure", "high": "warning"}  # in the library's words, "info" for the rest
SENT, FAILED, UNSURE = "sent", "failed", "unsure"


class Ear(threading.local):
    """How the last web request of each thread ended; the library says no more than "failed"."""

    def __init__(self) -> None:
        self.heard: Exception | int | None = None

    def listen(self) -> None:
        """Overhear every request from now on, where all of them pass."""
        from requests.adapters import HTTPAdapter

        send: Any = HTTPAdapter.send

        def overheard(*request: Any, **more: Any) -> Any:
            try:
                response = send(*request, **more)
            except Exception as exc:
                self.heard = exc
                raise
            self.heard = response.status_code
            return response

        HTTPAdapter.send = overheard  # type: ignore[method-assign]

    def verdict(self) -> tuple[str, str]:
        """What became of a message that the library calls failed, and why."""
        from requests import exceptions

        match self.heard:
            case int(status):
                return FAILED, f"it answers {status}"
            case exceptions.SSLError():
                return FAILED, "its certificate is not trusted; check the clock of this machine"
            case exceptions.ConnectTimeout():
                return FAILED, "it does not answer"
            case exceptions.ReadTimeout():
                return UNSURE, "it takes the message and does not confirm it"
            case exceptions.ConnectionError() as error if "Connection aborted" in str(error):
                return UNSURE, "it hangs up without an answer"
            case exceptions.ConnectionError():
                return FAILED, "it cannot be reached; check the network"
            case _:
                return FAILED, "it did not take the message"


EAR = Ear()


def push(service: Any, message: Mapping[str, str]) -> tuple[str, str]:
    """Push to one service. Returns the outcome, and why when it did not confirm the message."""
    from apprise import NotifyType

    service.socket_connect_timeout, service.socket_read_timeout = CONNECT_S, ANSWER_S
    kind = NotifyType(KINDS.get(message["priority"], "info"))
    taken = service.notify(title=message["title"], body=message["body"], notify_type=kind)
    return (SENT, "") if taken else EAR.verdict()


def settle(number: int, service: Any, message: Mapping[str, str] | None) -> None:
    """Push to one service and say what came of it; whatever goes wrong concerns it alone. Without a
    message it only matters whether the address was understood.
    """
    if service is None:
        outcome, words = FAILED, "its address is not understood"
    elif message is None:
        outcome, words = SENT, ""
    else:
        try:
            outcome, words = push(service, message)
        except Exception as exc:  # noqa: BLE001 - the other services shall be told
            outcome, words = FAILED, f"the library fails ({type(exc).__name__})"
    line = json.dumps({"number": number, "outcome": outcome, "words": words})
    os.write(sys.stdout.fileno(), f"{line}\n".encode())  # whole, whatever other threads write


def main(order: Mapping[str, Any]) -> None:
    """Push to all services at once."""
    from apprise import Apprise

    EAR.listen()
    services = [Apprise.instantiate(address) for address in order["addresses"]]
    with ThreadPoolExecutor(len(services)) as pool:
        for number, service in enumerate(services):
            pool.submit(settle, number, service, order["message"])


if __name__ == "__main__":
    main(json.load(sys.stdin))
