"""The sign of life to somewhere outside, against real servers."""

import pytest

from broker import free_port
from noonpot.notify import ping
from noonpot.notify.ping import Ping
from receiver import BlackHole, Receiver


def test_the_address_is_fetched() -> None:
    with Receiver() as place:
        assert Ping(place.url()).send() == ""
        assert place.fetched == ["/ping-geheim"]


def test_a_place_that_knows_no_such_address_is_named() -> None:
    with Receiver(status=404) as place:
        assert Ping(place.url()).send() == "it answers 404; check the address"


def test_a_place_that_is_not_there_is_named() -> None:
    problem = Ping(f"http://127.0.0.1:{free_port()}/ping-geheim").send()
    assert problem == "it cannot be reached; check the network"


def test_a_place_that_never_answers_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ping, "LIMIT_S", 0.3)
    with BlackHole() as hole:
        problem = Ping(f"http://127.0.0.1:{hole.port}/ping-geheim").send()
    assert "does not answer" in problem or "cannot be reached" in problem


@pytest.mark.parametrize("url", ["http://127.0.0.1:geheim/", "http://[geheim/", "http:// /geheim"])
def test_an_address_that_is_none_is_no_crash_and_not_repeated(url: str) -> None:
    problem = Ping(url).send()
    assert problem
    assert "geheim" not in problem + repr(Ping(url))
