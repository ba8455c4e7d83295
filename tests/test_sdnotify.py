import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from typing import NoReturn

import pytest

from noonpot.sdnotify import ServiceNotice


@contextmanager
def listening(address: str) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as receiver:
        receiver.settimeout(5)
        receiver.bind(address)
        yield receiver


def test_every_message_reaches_the_socket_that_systemd_names(tmp_path: Path) -> None:
    address = str(tmp_path / "notify")
    with listening(address) as receiver:
        notice = ServiceNotice({"NOTIFY_SOCKET": address})
        notice.ready()
        notice.alive()
        notice.status("2 cookers watched,\nnext reading in 2 s")
        notice.stopping()
        received = [receiver.recv(4096).decode() for _ in range(4)]
    # The words are those of sd_notify(3); a line feed would begin another variable.
    assert received == [
        "READY=1",
        "WATCHDOG=1",
        "STATUS=2 cookers watched, next reading in 2 s",
        "STOPPING=1",
    ]


def test_a_leading_at_sign_names_an_abstract_socket() -> None:
    name = f"noonpot-test-{os.getpid()}"
    with listening(f"\0{name}") as receiver:
        ServiceNotice({"NOTIFY_SOCKET": f"@{name}"}).ready()
        assert receiver.recv(4096) == b"READY=1"


def test_the_socket_is_taken_from_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = str(tmp_path / "notify")
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    with listening(address) as receiver:
        ServiceNotice().alive()
        assert receiver.recv(4096) == b"WATCHDOG=1"


def test_without_systemd_no_socket_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> NoReturn:
        raise AssertionError("a socket was made")

    monkeypatch.setattr(socket, "socket", refuse)
    ServiceNotice({}).ready()


def test_a_socket_nobody_listens_on_is_no_reason_to_stop(tmp_path: Path) -> None:
    notice = ServiceNotice({"NOTIFY_SOCKET": str(tmp_path / "gone")})
    notice.alive()
    with listening(str(tmp_path / "gone")) as receiver:
        notice.alive()  # and it is heard as soon as somebody listens again
        assert receiver.recv(4096) == b"WATCHDOG=1"


def test_a_full_queue_does_not_hold_up_the_watch(tmp_path: Path) -> None:
    address = str(tmp_path / "notify")
    notice = ServiceNotice({"NOTIFY_SOCKET": address})

    def talk() -> None:
        for _ in range(5_000):  # far more than a socket keeps, and nobody reads
            notice.alive()

    with listening(address):
        talking = Thread(target=talk, daemon=True)
        talking.start()
        talking.join(10)
        assert not talking.is_alive()
