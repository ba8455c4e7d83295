"""Whoever tries the door of the page is noticed: in its health, in the numbers, in the log."""

import logging
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from noonpot.app.pagehouse import keyring
from noonpot.web import keyring as keys
from noonpot.web.limits import Limits, Pace
from noonpot.web.refusals import MOST_ADDRESSES, Refusals, Why
from web.homes import Home, Page, Viewer, home_in

PASSPHRASE = "four words of mine"  # noqa: S105  for tests only
GUESS = "four words of mina"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Home]:
    monkeypatch.setattr(keys, "COST", 2**4)
    with home_in(tmp_path) as home:
        keyring(home.settings).set_passphrase(PASSPHRASE)
        yield home


def from_(page: Page, address: str) -> Viewer:
    return page.viewer(transport=httpx.HTTPTransport(local_address=address))


def refused(page: Page) -> dict[str, tuple[int, str]]:
    """What the health says to one who is in."""
    owner = from_(page, "127.0.0.9")
    assert owner.post("/api/session", {"passphrase": PASSPHRASE}).status_code == 200
    told = owner.told("/api/health")["page"]["refused"]
    lines = owner.get("/metrics").text.splitlines()
    for each in told:
        assert f'noonpot_page_refusals_total{{why="{each["why"]}"}} {each["count"]}.0' in lines
    return {each["why"]: (each["count"], each["words"]) for each in told}


def test_guessed_passphrases_are_told_with_the_address_that_guesses_most(home: Home) -> None:
    with home.page(lan=True) as page:
        for address, tries in (("127.0.0.2", 7), ("127.0.0.3", 2)):
            viewer = from_(page, address)
            for _ in range(tries):
                viewer.post("/api/session", {"passphrase": GUESS})
        assert refused(page) == {"login": (9, "refused logins: 9, 7 from 127.0.0.2")}


def test_all_other_ways_to_be_turned_away_are_told_too(home: Home) -> None:
    with home.page(lan=True) as page:
        viewer = from_(page, "127.0.0.4")
        ours = {"x-noonpot-token": viewer.token()}
        viewer.get("/s/guessed")
        viewer.client.get("/api/station", headers={"host": "elsewhere.example"})
        elsewhere = ours | {"origin": "https://elsewhere.example"}
        viewer.client.post("/api/session", json={"passphrase": GUESS}, headers=elsewhere)
        assert refused(page) == {
            "link": (1, "links that are not valid: 1, all from 127.0.0.4"),
            "name": (1, "requests by a name that is not ours: 1, all from 127.0.0.4"),
            "site": (1, "changes that another site asked for: 1, all from 127.0.0.4"),
        }


def test_a_flood_is_told(home: Home) -> None:
    with home.page(lan=True, limits=Limits(look=Pace(2, 0.001))) as page:
        viewer = from_(page, "127.0.0.5")
        for _ in range(5):
            viewer.get("/api/station")
        assert page.house.refusals.counts[Why.PACE] == 3


def test_who_is_let_in_and_who_only_has_an_old_page_is_no_stranger(home: Home) -> None:
    with home.page(lan=True) as page:
        viewer = from_(page, "127.0.0.6")
        assert viewer.get("/api/now").status_code == 401
        stale = {"x-noonpot-token": "of a page before the restart"}
        answer = viewer.client.post("/api/session", json={"passphrase": GUESS}, headers=stale)
        assert answer.status_code == 403
        assert refused(page) == {}


def test_the_log_tells_of_it_and_is_not_flooded(caplog: pytest.LogCaptureFixture) -> None:
    refusals = Refusals()
    with caplog.at_level(logging.WARNING):
        for number in range(3 * MOST_ADDRESSES):
            refusals.count(Why.LOGIN, f"10.0.{number // 256}.{number % 256}")
    assert len(caplog.messages) == 12
    assert caplog.messages[0] == "refused logins: 1, all from 10.0.0.0"
    assert len(refusals._addresses[Why.LOGIN]) == MOST_ADDRESSES  # noqa: SLF001
