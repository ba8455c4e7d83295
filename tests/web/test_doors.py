"""Who is let in: passphrase, first run, sessions, and links that let others look."""

import json
import logging
import threading
from collections.abc import Iterator

import httpx
import pytest

from broker import until
from noonpot.app.pagehouse import keyring
from noonpot.errors import StoreError
from noonpot.web import keyring as keys
from noonpot.web.keyring import Keyring
from noonpot.web.limits import Limits, Pace
from web.homes import CODE, Home, Page, Viewer

PASSPHRASE = "four words of mine"  # noqa: S105  for tests only
OTHER = "four words of yours"


@pytest.fixture(autouse=True)
def _quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """One test pays for the real cost; the others ask who gets in, not how slowly."""
    monkeypatch.setattr(keys, "COST", 2**4)


@pytest.fixture
def page(home: Home) -> Iterator[Page]:
    """A page for the home network, its passphrase chosen."""
    keyring(home.settings).set_passphrase(PASSPHRASE)
    with home.page(lan=True) as made:
        yield made


def signed_in(page: Page) -> Viewer:
    viewer = page.viewer()
    assert viewer.post("/api/session", {"passphrase": PASSPHRASE}).status_code == 200
    return viewer


def test_a_stranger_sees_nothing_but_the_door(page: Page) -> None:
    stranger = page.viewer()
    station = stranger.told("/api/station")
    assert station["viewer"] == {
        "may_write": False,
        "needs_passphrase": True,
        "first_run": False,
        "shared": False,
    }
    assert station["latitude"] is station["longitude"] is station["station"] is None
    assert (station["cookers"], station["foods"]) == ([], [])
    for path in ("/api/now", "/api/live", "/api/health", "/api/cooks", "/api/shares"):
        assert stranger.get(path).status_code == 401, path
    assert stranger.act("/api/cookers/box/start").status_code == 401
    assert stranger.get("/").status_code == 200


def test_who_knows_the_passphrase_comes_in_and_goes_out(page: Page) -> None:
    viewer = signed_in(page)
    assert viewer.told("/api/station")["viewer"]["may_write"] is True
    assert viewer.get("/api/now").status_code == 200
    cookie = dict(viewer.client.cookies)
    assert viewer.delete("/api/session").status_code == 200
    assert viewer.get("/api/now").status_code == 401
    kept = page.viewer(cookies=cookie)  # the session has ended, whoever kept its cookie
    assert kept.get("/api/now").status_code == 401


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(page: Page) -> None:
    answer = page.viewer().post("/api/session", {"passphrase": PASSPHRASE})
    words = answer.headers["set-cookie"].lower()
    assert "httponly" in words
    assert "samesite=strict" in words
    assert "max-age=43200" in words


def test_a_token_belongs_to_its_session(page: Page) -> None:
    one, other = signed_in(page), signed_in(page)
    assert one.token() != other.token()
    answer = one.client.delete("/api/session", headers={"X-Noonpot-Token": other.token()})
    assert answer.status_code == 403


def from_(page: Page, address: str) -> Viewer:
    return page.viewer(transport=httpx.HTTPTransport(local_address=address))


def test_five_tries_a_minute_and_whoever_used_them_up_shuts_nobody_else_out(page: Page) -> None:
    viewer = page.viewer()
    wrong = [viewer.post("/api/session", {"passphrase": f"wrong {n}"}) for n in range(5)]
    assert [answer.status_code for answer in wrong] == [403] * 5
    right = viewer.post("/api/session", {"passphrase": PASSPHRASE})
    assert right.status_code == 429
    assert "try again in 1" in right.json()["error"]
    elsewhere = from_(page, "127.0.0.2").post("/api/session", {"passphrase": PASSPHRASE})
    assert elsewhere.status_code == 200


def test_all_addresses_together_have_a_pace_too_which_one_alone_cannot_use_up(home: Home) -> None:
    keyring(home.settings).set_passphrase(PASSPHRASE)
    few = Limits(sign_in=Pace(2, 0.001), all_sign_in=Pace(3, 0.001))
    with home.page(lan=True, limits=few) as page:
        tries = [
            from_(page, f"127.0.0.{host}").post("/api/session", {"passphrase": OTHER}).status_code
            for host in (2, 2, 2, 2, 3, 4)
        ]
    assert tries == [403, 403, 429, 429, 403, 429]


def test_a_new_passphrase_ends_all_sessions(home: Home, page: Page) -> None:
    viewer = signed_in(page)
    keyring(home.settings).set_passphrase(OTHER)  # as the command line does, from elsewhere
    assert viewer.get("/api/now").status_code == 401
    assert viewer.post("/api/session", {"passphrase": PASSPHRASE}).status_code == 403
    assert viewer.post("/api/session", {"passphrase": OTHER}).status_code == 200


def test_a_new_passphrase_withdraws_all_links(home: Home, page: Page) -> None:
    owner, guest = signed_in(page), page.viewer()
    guest.get(owner.post("/api/shares", {"name": "neighbour"}).json()["path"])
    assert guest.get("/api/now").status_code == 200
    keyring(home.settings).set_passphrase(OTHER)
    assert guest.get("/api/now").status_code == 401
    assert keyring(home.settings).links() == ()


def test_the_first_passphrase_is_chosen_with_the_code(home: Home) -> None:
    with home.page(lan=True, code=CODE) as page:
        viewer = page.viewer()
        assert viewer.told("/api/station")["viewer"]["first_run"] is True
        choose = {"code": "WRNG-CODE", "passphrase": PASSPHRASE}
        assert viewer.post("/api/passphrase", choose).status_code == 403
        short = viewer.post("/api/passphrase", {"code": CODE, "passphrase": "short"})
        assert short.status_code == 400
        assert viewer.get("/api/now").status_code == 401
        written = {"code": "abcd efgh", "passphrase": PASSPHRASE}
        assert viewer.post("/api/passphrase", written).status_code == 200
        assert viewer.get("/api/now").status_code == 200
        again = {"code": CODE, "passphrase": OTHER}
        assert page.viewer().post("/api/passphrase", again).status_code == 403
        assert viewer.told("/api/station")["viewer"]["first_run"] is False


def test_without_a_code_nobody_chooses_a_passphrase(home: Home) -> None:
    for lan in (False, True):
        with home.page(lan=lan) as page:
            answer = page.viewer().post("/api/passphrase", {"code": "", "passphrase": OTHER})
            assert answer.status_code in (400, 403)
    assert keyring(home.settings).issue == ""


def test_on_this_computer_alone_nobody_signs_in_until_there_is_a_passphrase(home: Home) -> None:
    with home.page() as page:
        assert page.viewer().get("/api/now").status_code == 200
        keyring(home.settings).set_passphrase(PASSPHRASE)
        assert page.viewer().get("/api/now").status_code == 401


def test_a_link_lets_look_and_nothing_else_until_it_is_withdrawn(page: Page) -> None:
    owner, guest = signed_in(page), page.viewer()
    made = owner.post("/api/shares", {"name": "neighbour"}).json()
    followed = guest.get(made["path"])
    assert (followed.status_code, followed.headers["location"]) == (303, "/")
    assert guest.told("/api/station")["viewer"] == {
        "may_write": False,
        "needs_passphrase": False,
        "first_run": False,
        "shared": True,
    }
    assert guest.get("/api/cooks").status_code == 200
    assert guest.act("/api/cookers/box/start").status_code == 403
    assert guest.post("/api/shares", {}).status_code == 403
    assert guest.delete(f"/api/shares/{made['id']}").status_code == 403

    (listed,) = owner.told("/api/shares")["shares"]
    assert (listed["name"], set(listed)) == ("neighbour", {"id", "name", "since"})
    assert owner.delete(f"/api/shares/{made['id']}").status_code == 200
    assert guest.get("/api/cooks").status_code == 401
    assert page.viewer().get(made["path"]).status_code == 404
    assert owner.delete(f"/api/shares/{made['id']}").status_code == 404


def test_a_guest_does_not_see_who_else_has_a_link(page: Page) -> None:
    owner, guest = signed_in(page), page.viewer()
    guest.get(owner.post("/api/shares", {"name": "neighbour"}).json()["path"])
    assert guest.get("/api/shares").status_code == 403


def test_a_withdrawn_link_also_ends_what_is_being_watched(page: Page) -> None:
    owner, guest = signed_in(page), page.viewer()
    made = owner.post("/api/shares", {"name": ""}).json()
    guest.get(made["path"])
    ended = threading.Event()

    def watch() -> None:
        with guest.client.stream("GET", "/api/live") as stream:
            for _ in stream.iter_lines():
                pass
        ended.set()

    watching = threading.Thread(target=watch)
    watching.start()
    until(lambda: page.house.board.viewers == 1, "the guest watches")
    owner.delete(f"/api/shares/{made['id']}")
    watching.join(10)
    assert ended.is_set()


def test_there_are_only_so_many_links(page: Page) -> None:
    owner = signed_in(page)
    for _ in range(keys.MOST_LINKS):
        assert owner.post("/api/shares", {"name": "x"}).status_code == 200
    assert owner.post("/api/shares", {"name": "x"}).status_code == 409


def test_no_secret_is_kept_logged_or_shown(
    home: Home, page: Page, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    caplog.set_level(logging.DEBUG)
    owner = signed_in(page)
    session = owner.client.cookies["noonpot"]
    link = owner.post("/api/shares", {"name": "neighbour"}).json()["path"]
    secret = link.rpartition("/")[2]
    guest = page.viewer()
    guest.get(link)
    answers = [
        page.viewer().post("/api/session", {"passphrase": PASSPHRASE + "!"}).text,
        page.viewer().post("/api/session", {"passphrase": PASSPHRASE, "more": 1}).text,
        page.viewer().get(f"{link}x").text,
        owner.get("/api/shares").text,
        owner.get("/api/station").text,
        guest.get("/api/health").text,
    ]
    kept = [
        path.read_bytes().decode(errors="replace")
        for path in home.settings.data.rglob("*")
        if path.is_file()
    ]
    said = capfd.readouterr()
    # What was asked is never logged; test_process.py looks at the log of a real one.
    ours = [r.getMessage() for r in caplog.records if r.name in ("uvicorn.error", "noonpot")]
    ours += [r.getMessage() for r in caplog.records if r.name.startswith("noonpot.")]
    for text in [*answers, *kept, *ours, said.out, said.err]:
        for hidden in (PASSPHRASE, session, secret):
            assert hidden not in text


@pytest.mark.parametrize("text", ["", "{", "[]", '{"salt": 1}', json.dumps({"links": [{}]})])
def test_keys_that_cannot_be_read_let_nobody_in(home: Home, text: str) -> None:
    folder = home.settings.data / "page"
    folder.mkdir()
    (folder / "keys.json").write_text(text)
    with pytest.raises(StoreError, match="choose the passphrase anew"):
        keyring(home.settings).links()
    with home.page(lan=True) as page:
        assert page.viewer().get("/api/station").status_code == 503
        assert page.viewer().get("/api/now").status_code == 401


def test_one_hash_at_a_time_however_many_ask(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    keyring(home.settings).set_passphrase(PASSPHRASE)
    at_once, most, turn = 0, 0, threading.Lock()
    opens = Keyring.opens

    def counted(self: Keyring, passphrase: str) -> bool:
        nonlocal at_once, most
        with turn:
            at_once += 1
            most = max(most, at_once)
        try:
            return opens(self, passphrase)
        finally:
            with turn:
                at_once -= 1

    monkeypatch.setattr(Keyring, "opens", counted)
    many = Limits(sign_in=Pace(50, 1.0), all_sign_in=Pace(50, 1.0))
    with home.page(lan=True, limits=many) as page:
        viewers = [page.viewer() for _ in range(8)]
        asking = [
            threading.Thread(target=v.post, args=["/api/session", {"passphrase": OTHER}])
            for v in viewers
        ]
        for thread in asking:
            thread.start()
        for thread in asking:
            thread.join()
    assert most == 1
