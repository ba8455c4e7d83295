"""Whatever is sent to the page: an answer below 500, soon, and without a secret."""

import json
import socket
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import httpx
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from endurance.extent import FULL, Tell
from endurance.fuzz_hostile import damaged, json_tokens, texts
from endurance.fuzz_tally import MARK, hold_secret, listening
from endurance.fuzz_web import CLOCK, CODE, PASSPHRASE, Line, held_after, held_open, looked, opened
from noonpot.app.pageprocess import HEAD_S, MOST_OF_ONE
from web.homes import Page

BAR = "no 5xx, no request that takes more than 1 s of work, no secret"
SLOWEST_S = 1.0
ROUTES: dict[str, str] = {
    "GET /api/station": "",
    "GET /api/now": "",
    "GET /api/health": "",
    "GET /api/cookers/{box}/curve?from={t}&to={t}&points={n}&width={n}": "",
    "GET /api/cookers/{box}/rating": "",
    "GET /api/cookers/{box}/foods?sky={clear}": "",
    "POST /api/cookers/{box}/aim": '{"id": ID, "azimuth": 94, "elevation": 37}',
    "POST /api/cookers/{box}/load": (
        '{"id": ID, "food": "bread", "mass_kg": 0.6, "meal": "2026-06-03T18:00:00Z"}'
    ),
    "POST /api/cookers/{box}/unload": '{"id": ID}',
    "POST /api/cookers/{box}/mark": '{"id": ID, "what": "note", "text": "stirred"}',
    "POST /api/cookers/{box}/verdict": '{"id": ID, "cook": 1, "rating": 5, "text": "good"}',
    "POST /api/cookers/{box}/start": '{"id": ID, "food": "bread", "target_c": 95}',
    "POST /api/cookers/{station}/shelve": '{"id": ID, "alarm": "clock", "minutes": 30}',
    "POST /api/cookers/{box}/{acknowledge}": '{"id": ID, "alarm": "done"}',
    "POST /api/undo": '{"id": ID, "letter": "1780470000.000000-page-abcdefgh"}',
    "POST /api/plan": (
        '{"food": "bread", "mass_kg": 1, "on": "today", "at": "10:30", "sky": "clear"}'
    ),
    "GET /api/cooks?limit={n}&before={n}": "",
    "GET /api/cooks/{1}": "",
    "GET /api/cooks/{1}/curve?points={n}": "",
    "GET /api/cooks/{1}/recording.csv": "",
    "GET /api/cooks/{1}/table.csv": "",
    "GET /api/cooks/{7}/report.html": "",  # that of a cook takes a process of its own
    "POST /api/session": json.dumps({"passphrase": PASSPHRASE}),
    "DELETE /api/session": "",
    "POST /api/passphrase": json.dumps({"code": CODE, "passphrase": PASSPHRASE}),
    "GET /api/shares": "",
    "POST /api/shares": '{"name": "kitchen"}',
    "DELETE /api/shares/{abcdef}": "",
    "GET /api/openapi.json": "",
    "GET /metrics": "",
    "GET /s/{abc}": "",
    "GET /": "",
    "GET /static/{main.js}": "",
    "GET /{x}": "",
}
METHODS = ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "get", "BREW"]
HEADERS = [
    f"Cookie: noonpot={MARK}; noonpot-guest={MARK}",
    f"Authorization: Bearer {MARK}",
    "Cookie: \x01=\xff; ;;==;noonpot",
    "Authorization: \xff \xff",
    "Range: bytes=0-0,1-1,-5,9999999999999999999-",
    "Range: bytes=-" + "9" * 400,
    "If-None-Match: *",
    'If-None-Match: "\xff',
    "If-Modified-Since: Mon, 99 Foo 99999 99:99:99 GMT",
    "If-Modified-Since: 0",
    "If-Range: x",
    "Accept-Encoding: gzip;q=nan, \xff",
    "Accept: " + "a/b," * 2000,
    "Origin: http://[",
    "Origin: null",
    "Sec-Fetch-Site: cross-site",
    "Host: evil.example",
    "Host: [::1",
    "Host:",
    "Content-Length: -1",
    "Content-Length: 99999999999999999999",
    "Content-Length: 1, 1",
    "Transfer-Encoding: chunked",
    "Transfer-Encoding: gzip",
    "Expect: 100-continue",
    "Upgrade: websocket",
    "Connection: Upgrade",
    "Content-Type: application/json; charset=\xff",
    "Content-Type: text/plain",
    "X-Forwarded-For: 1.2.3.4",
    "X-Noonpot-Token: \xff",
    "X: " + "y" * 20_000,
    "a\0b: c",
    " folded: x",
    "",
]
SEGMENT = st.one_of(
    texts.map(lambda text: quote(text.encode(errors="surrogatepass"), safe="")[:6000]),
    st.sampled_from(
        [
            "%00",
            "%ff",
            "%2e%2e%2f",
            "..",
            "%",
            "%zz",
            "9" * 400,
            "-1",
            "0",
            "1e9",
            "2**63",
            "nan",
            "",
            "%F0%9F",
            "con%0d%0aX: y",
            "9223372036854775808",
            "7258118401",
            "0001-01-01T00:00:00Z",
        ]
    ),
)


@st.composite
def requests(draw: st.DrawFn) -> tuple[bytes, str]:
    """A right request in which some things are others; and whether it has more than it needs."""
    route = draw(st.sampled_from(sorted(ROUTES)))
    method, _, path = route.partition(" ")
    body = ROUTES[route].replace("ID", f'"fuzz-{draw(st.integers(0, 10**12)):012d}"')
    while "{" in path:
        first, last = path.index("{"), path.index("}")
        usual = path[first + 1 : last]
        value = draw(SEGMENT) if draw(st.integers(0, 2)) == 0 else usual
        path = path[:first] + value + path[last + 1 :]
    if draw(st.integers(0, 9)) == 0:
        method = draw(st.sampled_from(METHODS))
    if draw(st.integers(0, 19)) == 0:
        path += "?" + draw(SEGMENT)
    if body:
        body = draw(spoilt(body))
    raw = body.encode(errors="surrogatepass")
    if draw(st.integers(0, 19)) == 0:
        raw = draw(st.sampled_from([b"\0" * 100, b"[" * 60_000, b"x" * 70_000, b"\xff\xfe{"]))
    lines = [f"{method} {path} HTTP/1.1", "Host: HOST", "X-Noonpot-Token: TOKEN"]
    if raw:
        lines += ["Content-Type: application/json", f"Content-Length: {len(raw)}"]
    more = draw(st.sampled_from([0, 0, 0, 1, 2]))
    for _ in range(more):
        lines.insert(draw(st.integers(1, len(lines))), draw(st.sampled_from(HEADERS)))
    head = "\r\n".join(lines).encode("latin-1", errors="replace")
    return head + b"\r\n\r\n" + raw, "odd" if more else "plain"


def spoilt(body: str) -> st.SearchStrategy[str]:
    """The body with other values, other keys, or none."""
    parts = json.loads(body.replace("ID", '"x"')) if "ID" in body else json.loads(body)

    @st.composite
    def made(draw: st.DrawFn) -> str:
        told = {key: json.dumps(value) for key, value in parts.items()}
        for _ in range(draw(st.integers(0, 2))):
            key = draw(st.one_of(st.sampled_from(sorted(parts)), st.just("what"), texts))
            if draw(st.booleans()):
                told[key] = draw(json_tokens)
            else:
                told.pop(key, None)
        return "{" + ", ".join(f"{json.dumps(key)}: {value}" for key, value in told.items()) + "}"

    return made()


ROUGH = (
    damaged(
        b"POST /api/cookers/box/unload HTTP/1.1\r\nHost: HOST\r\nX-Noonpot-Token: TOKEN\r\n"
        b'Content-Type: application/json\r\nContent-Length: 18\r\n\r\n{"id": "abcdefgh"}'
    )
    .filter(lambda raw: raw.strip(b"\r\n"))
    .map(lambda raw: (raw + b"\r\n\r\n", "rough"))
)
anything = st.integers(0, 19).flatmap(lambda chosen: ROUGH if chosen == 0 else requests())


SOUND = b"GET /api/station HTTP/1.1\r\nHost: HOST\r\nX-Noonpot-Token: TOKEN\r\n\r\n", "plain"


@pytest.mark.parametrize(
    "lan",
    [
        pytest.param(False, id="local"),
        pytest.param(
            True,
            id="lan",
            marks=pytest.mark.skipif(not FULL, reason="for NOONPOT_ENDURANCE=full"),
        ),
    ],
)
def test_no_request_makes_the_page_fail(tmp_path: Path, figure: Tell, lan: bool) -> None:
    statuses: Counter[int] = Counter()
    longest_s = latest_s = 0.0

    @settings(
        max_examples=(10_000 if lan else 40_000) if FULL else 30,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @example(SOUND)  # whatever chance brings: what is right is let in
    @given(request=anything)
    def run(request: tuple[bytes, str]) -> None:
        nonlocal longest_s, latest_s
        raw, kind = request
        if kind != "plain":  # it might be taken for the end of the one before, or eat the next
            line.hang_up()
        raw = raw.replace(b"HOST", line.host.encode(), 1).replace(b"TOKEN", token.encode(), 1)
        begun_s, worked_s = CLOCK.moment().mono_s, time.process_time()
        told = line.ask(raw)
        # Of page and client together: what else the machine does, and it may do much, is left out.
        worked_s = time.process_time() - worked_s
        if kind != "plain":
            line.hang_up()
        latest_s = max(latest_s, CLOCK.moment().mono_s - begun_s)
        statuses[told.status] += 1
        assert told.status < 500, told.text[:1000]
        hold_secret(told.text.decode("latin-1"))
        longest_s = max(longest_s, worked_s)
        assert worked_s <= SLOWEST_S

    with opened(tmp_path, lan=lan) as page, listening(), Line(page) as line:
        token = str(httpx.get(f"{page.address}/api/station").json()["token"])
        run()
        assert httpx.get(f"{page.address}/api/station").status_code == 200
    assert statuses[200] > 0
    ends = ", ".join(f"{count} x {status}" for status, count in statuses.most_common())
    asked = (
        f"{sum(statuses.values())} requests, longest {1000 * longest_s:.0f} ms of work, "
        f"latest answer after {1000 * latest_s:.0f} ms, findings 0"
    )
    figure(20, f"hostile requests, {'lan' if lan else 'local'}", f"{asked}; {ends}", BAR)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with opened(tmp_path_factory.mktemp("slow"), lan=False) as page:
        yield page


def test_two_hundred_slow_connections_of_one_stranger_keep_nobody_out(
    page: Page, figure: Tell
) -> None:
    held = held_open(page, "127.0.0.2", 200)
    try:
        begun_s = CLOCK.moment().mono_s
        answers = [looked(page, "127.0.0.3").status_code for _ in range(10)]
        took_s = (CLOCK.moment().mono_s - begun_s) / 10
    finally:
        for one in held:
            one.close()
    assert answers == [200] * 10
    assert took_s < SLOWEST_S
    told = f"{MOST_OF_ONE} of them kept, another viewer answered in {1000 * took_s:.0f} ms"
    figure(20, "200 slow connections of one address", told, "others answered within 1 s")


REFUSED = b"POST /api/undo HTTP/1.1\r\nHost: %s\r\nTransfer-Encoding: chunked\r\n\r\n"


@pytest.mark.parametrize("waiting", [False, True], ids=["at once", "after the answer"])
def test_a_body_that_is_none_is_no_failure_of_ours(page: Page, waiting: bool) -> None:
    with listening(), Line(page) as line, socket.create_connection(line.address, 30) as stranger:
        request = REFUSED % line.host.encode()
        if waiting:
            stranger.sendall(request)
            assert stranger.recv(65_536).startswith(b"HTTP/1.1 4")
            stranger.sendall(b"no length\r\n")
        else:
            stranger.sendall(request + b"no length\r\n")
            assert stranger.recv(65_536).startswith(b"HTTP/1.1 400 ")
        while stranger.recv(65_536):
            pass
        assert looked(page, "127.0.0.3").status_code == 200


@pytest.mark.skipif(not FULL, reason="this waits for half a minute: NOONPOT_ENDURANCE=full")
@pytest.mark.parametrize(
    ("first", "then"),
    [
        pytest.param(b"", b"GET / HTTP/1.1\r\nX: ", id="half a later head"),
        pytest.param(b"Content-Length: 99999\r\n", b"abc", id="a body that never comes"),
    ],
)
def test_no_line_is_held_for_good_by_half_a_request(page: Page, first: bytes, then: bytes) -> None:
    with held_after(page, first, then) as line:
        line.settimeout(3 * HEAD_S)
        assert line.recv(10) == b""
