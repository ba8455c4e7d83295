"""What stands before the page: names, changes from elsewhere, bounds."""

import json
import socket
from collections.abc import Iterator
from contextlib import ExitStack
from urllib.parse import urlsplit

import httpx
import pytest

from noonpot.app import pageprocess
from noonpot.web.limits import Limits, Pace
from web.homes import Home, Page, Viewer

JSON = {"Content-Type": "application/json"}


@pytest.fixture
def page(home: Home) -> Iterator[Page]:
    with home.page() as made:
        yield made


@pytest.fixture
def viewer(page: Page) -> Viewer:
    return page.viewer()


def raw(page: Page, text: bytes, patience_s: float = 5.0) -> bytes:
    """What comes back for bytes as they stand; all of it until the page closes or falls silent."""
    split = urlsplit(page.address)
    told = b""
    with socket.create_connection((split.hostname, split.port), patience_s) as line:
        try:
            line.sendall(text)
            while part := line.recv(65536):
                told += part
                if b"\r\n\r\n" in told and b'"}' in told:
                    return told
        except (TimeoutError, ConnectionError):
            return told
    return told


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1:8080", "[::1]:8080", "LOCALHOST"])
def test_the_page_goes_by_the_names_of_this_computer(viewer: Viewer, name: str) -> None:
    assert viewer.get("/api/station", headers={"Host": name}).status_code == 200


@pytest.mark.parametrize(
    "name", ["evil.example", "localhost.evil.example", "192.168.1.7", "evil@localhost", "", "["]
)
def test_a_name_that_somebody_else_can_turn_here_is_refused(viewer: Viewer, name: str) -> None:
    for path in ("/", "/api/station", "/static/main.js"):
        assert viewer.get(path, headers={"Host": name}).status_code == 421


def test_in_the_home_network_addresses_and_known_names_will_do(home: Home) -> None:
    with home.page(lan=True) as page:
        viewer = page.viewer()
        for name in ("192.168.1.7:8080", "[fe80::1]", "localhost"):
            assert viewer.get("/api/station", headers={"Host": name}).status_code == 200
        assert viewer.get("/", headers={"Host": "evil.example"}).status_code == 421


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "same-origin"}, 404),
        ({"Sec-Fetch-Site": "none"}, 404),
        ({}, 404),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://[bad"}, 403),
        ({"Origin": "http://localhost"}, 404),
    ],
)
def test_a_change_that_another_site_asks_for_is_refused(
    viewer: Viewer, headers: dict[str, str], status: int
) -> None:
    more = {"Host": "localhost", "X-Noonpot-Token": viewer.token(), **headers}
    body = {"id": "undo-0001", "letter": "none"}
    assert viewer.client.post("/api/undo", json=body, headers=more).status_code == status


@pytest.mark.parametrize("token", [None, "", "x" * 32, "\xe4" * 32])
def test_a_change_without_the_token_of_the_page_is_refused(
    viewer: Viewer, token: str | None
) -> None:
    headers = {} if token is None else {b"X-Noonpot-Token": token.encode("latin-1")}
    answer = viewer.client.post("/api/undo", json={}, headers=headers)
    assert answer.status_code == 403
    assert "load it anew" in answer.json()["error"]


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_a_change_that_a_plain_form_could_send_is_refused(viewer: Viewer, kind: str) -> None:
    headers = {"X-Noonpot-Token": viewer.token(), "Content-Type": kind}
    answer = viewer.client.post("/api/undo", content=b"{}", headers=headers)
    assert answer.status_code == 415


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"{",
        b"1",
        b'{"id": "undo-0001", "id": "undo-0001"}',
        b'{"id": NaN}',
        b"\xff",
        b"[" * 30_000,
        b'{"id": "undo-0001", "letter": "\\ud800"}',
        b'{"id": "undo-0001", "\\ud800": 1}',
        b'{"id": ' + b"9" * 5000 + b"}",
    ],
)
def test_what_is_no_json_object_is_refused(viewer: Viewer, body: bytes) -> None:
    headers = {"X-Noonpot-Token": viewer.token(), **JSON}
    answer = viewer.client.post("/api/undo", content=body, headers=headers)
    assert answer.status_code in (400, 404)


def test_a_body_has_a_bound_said_or_not(page: Page, viewer: Viewer) -> None:
    headers = {"X-Noonpot-Token": viewer.token(), **JSON}
    said = viewer.client.post("/api/undo", content=b" " * 70_000, headers=headers)
    assert said.status_code == 413

    def parts() -> Iterator[bytes]:
        for _ in range(70):
            yield b" " * 1000

    unsaid = viewer.client.post("/api/undo", content=parts(), headers=headers)
    assert unsaid.status_code == 413
    assert page.viewer().get("/api/now").status_code == 200


def test_a_body_that_never_ends_is_given_up(home: Home) -> None:
    with home.page(limits=Limits(body_s=0.2)) as page:
        token = page.viewer().token()
        told = raw(
            page,
            b"POST /api/undo HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            b"X-Noonpot-Token: %s\r\nContent-Length: 100\r\n\r\n{" % token.encode(),
        )
    assert told.startswith(b"HTTP/1.1 408 ")


def test_who_connects_and_says_nothing_is_let_go(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pageprocess, "HEAD_S", 0.2)
    with home.page() as page:
        split = urlsplit(page.address)
        with socket.create_connection((split.hostname, split.port), 10) as line:
            line.sendall(b"GET / HTTP/1.1\r\n")
            assert line.recv(100) == b""


def test_one_address_cannot_take_all_the_places(home: Home) -> None:
    with home.page() as page, ExitStack() as lines:
        split = urlsplit(page.address)
        place = (split.hostname, split.port)
        open_ = [
            lines.enter_context(socket.create_connection(place, 10))
            for _ in range(pageprocess.MOST_AT_ONCE)
        ]
        for line in open_[pageprocess.MOST_OF_ONE :]:
            assert line.recv(100) == b""  # let go at once, not after a wait
        open_[0].sendall(b"GET /api/station HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert open_[0].recv(100).startswith(b"HTTP/1.1 200 ")
        neighbour = httpx.HTTPTransport(local_address="127.0.0.2")
        assert page.viewer(transport=neighbour).get("/api/now").status_code == 200


@pytest.mark.parametrize(
    "text",
    [
        b"\x00\x01\x02\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"y" * 400_000 + b"\r\n\r\n",
        b"GET /\xff\xfe HTTP/1.1\r\nHost: localhost\r\n\r\n",
    ],
)
def test_broken_requests_harm_nobody(page: Page, text: bytes) -> None:
    told = raw(page, text, patience_s=1.0)
    assert not told.startswith(b"HTTP/1.1 5")
    assert not told.startswith(b"HTTP/1.1 200")
    assert page.viewer().get("/api/now").status_code == 200


def test_who_asks_too_much_is_told_to_wait_and_others_are_not(home: Home) -> None:
    few = Limits(look=Pace(4, 0.001), act=Pace(2, 0.001))
    with home.page(limits=few) as page:
        viewer = page.viewer()
        token = viewer.token()
        acts = [
            viewer.client.post("/api/undo", json={}, headers={"X-Noonpot-Token": token})
            for _ in range(3)
        ]
        looks = [viewer.get("/api/now").status_code for _ in range(4)]
        assert [answer.status_code for answer in acts] == [400, 400, 429]
        assert "try again in" in acts[-1].json()["error"]
        assert looks == [200, 200, 200, 429]
        neighbour = httpx.HTTPTransport(local_address="127.0.0.2")
        assert page.viewer(transport=neighbour).get("/api/now").status_code == 200


@pytest.mark.parametrize("path", ["/", "/api/now", "/nothing", "/api/cooks/99", "/s/nothing"])
def test_every_answer_tells_browsers_what_not_to_do(viewer: Viewer, path: str) -> None:
    headers = viewer.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'self'; ")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "server" not in headers
    assert "access-control-allow-origin" not in headers
    if path.startswith("/api"):
        assert headers["cache-control"] == "no-store"


def test_a_fault_of_ours_is_said_without_a_trace(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    with home.page() as page:
        monkeypatch.setattr(type(page.house.board), "time", property(lambda _: 1 / 0))
        client = httpx.Client(base_url=page.address)
        answer = client.get("/api/now")
        client.close()
    assert answer.status_code == 500
    assert json.loads(answer.text) == {
        "error": "the page failed at this; the log of noonpot tells more"
    }


def test_a_data_file_that_cannot_be_read_is_a_503_with_its_cure(home: Home) -> None:
    with home.page() as page:
        viewer = page.viewer()
        home.store.close()
        for suffix in ("", "-wal", "-shm"):
            (home.settings.data / f"noonpot.db{suffix}").unlink(missing_ok=True)
        (home.settings.data / "noonpot.db").write_bytes(b"no data file" * 100)
        answer = viewer.get("/api/cooks")
        health = viewer.told("/api/health")
    assert answer.status_code == 503
    assert "restore a backup" in answer.json()["error"]
    assert "restore a backup" in health["store"]["problem"]
