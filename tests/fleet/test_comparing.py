"""Cookers of several stations held side by side on a real time-series server."""

import json
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from cli.terminal import Noonpot, caller
from noonpot.core.cookerdays import CookerDays, days_json, days_lines
from noonpot.errors import UplinkError
from noonpot.fleet.questions import asked
from noonpot.fleet.series import SeriesServer
from noonpot.store.points import Point
from noonpot.uplink.client import Client, line
from uplink.victoria import Victoria

UNTIL = datetime(2026, 6, 10, tzinfo=UTC)
DAY = timedelta(days=1)


def day(station: str, cooker: str, begin: datetime, hot_min: int, top_c: float) -> list[str]:
    """A day of a cooker: three hours of a reading in each minute, so many of them hot, and a load.
    In between nothing was read for 20 minutes.
    """
    at_ms = int((begin + timedelta(hours=14)).timestamp()) * 1000
    tags = {"probe": f"{cooker}-pot", "role": "pot", "cooker": cooker}
    values = [top_c if i < hot_min else 60.0 for i in range(200)]
    points = [
        Point("temperature", tags, {"celsius": value}, at_ms + i * 60_000)
        for i, value in enumerate(values)
        if not 150 <= i < 170
    ]
    core = {"probe": f"{cooker}-core", "role": "core", "cooker": cooker}
    points += [Point("temperature", core, {"celsius": 140.0}, at_ms)]  # no pot
    points += [Point("event", {"cooker": cooker, "kind": "load"}, {"count": 1.0}, at_ms + 7)]
    points += [Point("event", {"cooker": cooker, "kind": "lid"}, {"count": 1.0}, at_ms + 8)]
    return [line(point, station) for point in points]


def light(station: str, begin: datetime) -> list[str]:
    """An hour of 1000 W/m²."""
    at_ms = int((begin + timedelta(hours=16)).timestamp()) * 1000
    tags = {"probe": "sky", "role": "irradiance"}
    return [
        line(Point("irradiance", tags, {"w_per_m2": 1000.0}, at_ms + i * 60_000), station)
        for i in range(60)
    ]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Victoria]:
    """Eight days of two stations: more than is asked at once."""
    with Victoria(tmp_path_factory.mktemp("victoria")) as running:
        lines: list[str] = []
        for back in range(1, 9):
            begin = UNTIL - back * DAY
            lines += day("garden", "box", begin, hot_min=60 + back, top_c=130.0 + back)
            if back <= 3:
                lines += day("orchard", "dish", begin, hot_min=150, top_c=91.0)
                lines += light("orchard", begin)
        client = Client(running)
        assert client.write(lines) is None
        client.close()
        running.points("temperature")  # flushes
        yield running


def asked_of(server: Victoria, days: int, station: str = "") -> list[CookerDays]:
    return asked(SeriesServer(server.url).ask, UNTIL, days, station)


def test_hours_and_loads_are_counted_by_readings_day_by_day(server: Victoria) -> None:
    found = [days_json(one) for one in asked_of(server, 8)]
    assert found == [
        {
            "station": "orchard",
            "cooker": "dish",
            "days": 3,
            "seen_h": 9.0,
            "hot_h": 7.5,
            "hot_h_a_day": 2.5,
            "highest_c": 91.0,
            "loads": 3,
            "sun_kwh_per_m2_a_day": 1.0,
        },
        {
            "station": "garden",
            "cooker": "box",
            "days": 8,
            "seen_h": 24.0,
            "hot_h": round((8 * 60 + 36) / 60, 2),
            "hot_h_a_day": round(64.5 / 60, 2),
            "highest_c": 138.0,
            "loads": 8,
            "sun_kwh_per_m2_a_day": None,
        },
    ]


def test_one_station_and_fewer_days_can_be_asked_for(server: Victoria) -> None:
    (box,) = asked_of(server, 2, "garden")
    assert (box.station, len(box.days), box.highest_c) == ("garden", 2, 132.0)
    assert asked_of(server, 2, "nobody") == []


def test_the_text_says_what_the_comparison_cannot_tell(server: Victoria) -> None:
    text = "\n".join(days_lines(asked_of(server, 3), "C"))
    assert text.splitlines()[:3] == [
        "station  cooker  days  seen    hot  hot a day  highest  loads  sun a day",
        "orchard  dish       3   9 h  7.5 h      2.5 h    91 °C      3        1.0",
        "garden   box        3   9 h  3.1 h      1.0 h   133 °C      3          -",
    ]
    assert "different skies" in text
    assert "noonpot rate COOKER --against COOKER" in text
    assert "above 194 °F" in "\n".join(days_lines([], "F"))


def test_the_command_asks_the_server_and_tells_what_is_wrong(
    server: Victoria,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    noonpot: Noonpot = caller(tmp_path, monkeypatch, capsys)
    url = ("--url", server.url)
    said = noonpot("stations", "compare", "--days", "2", *url)
    assert (said.code, said.out) == (0, "The server has no reading of a pot in the last 2 days.\n")
    assert noonpot("stations", "compare", "--json", *url).out == ""
    for words, sentence in (
        (("--days", "0", *url), "--days is 0, but must be 1 to 366"),
        (("--station", 'x"}', *url), "--station is 'x\"}', which is no name of a station"),
        (("--token-file", "t"), "--token-file belongs to --url; name it as well"),
    ):
        told = noonpot("stations", "compare", *words)
        assert (told.code, told.err.strip()) == (2, sentence)
    away = noonpot("stations", "compare", "--url", "http://127.0.0.1:1")
    assert away.code == 1
    assert "cannot be reached" in away.err


class Answer(BaseHTTPRequestHandler):
    """Answers whatever its server was given, and remembers who asked."""

    def do_GET(self) -> None:
        status, headers, body, asked = self.server.script  # type: ignore[attr-defined]
        asked.append(self.headers.get("Authorization"))
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None: ...


@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (200, b"not json", "is not understood"),
        (
            200,
            b'{"status":"success","data":{"resultType":"matrix","result":[1]}}',
            "not understood",
        ),
        (200, b"x" * (17 << 20), "more than 16 MB"),
        (401, b"", "the token is wrong"),
        (404, b"", "it knows no PromQL"),
        (429, b"", "wait a little"),
        (302, b"", "answers 302"),
    ],
)
def test_an_answer_that_helps_nobody_is_told_and_the_token_goes_nowhere_else(
    status: int, body: bytes, words: str
) -> None:
    seen: list[str | None] = []
    with HTTPServer(("127.0.0.1", 0), Answer) as stranger:
        address = f"http://127.0.0.1:{stranger.server_port}"
        stranger.script = (status, {"Location": f"{address}/elsewhere"}, body, seen)  # type: ignore[attr-defined]
        threading.Thread(target=stranger.serve_forever, args=(0.01,), daemon=True).start()
        server = SeriesServer(address, "secret")
        assert "secret" not in repr(server)
        with pytest.raises(UplinkError, match=words):
            server.ask("up", UNTIL - DAY, UNTIL, 60)
        stranger.shutdown()
    assert seen == ["Bearer secret"]


@pytest.mark.parametrize("url", ["ftp://x", "localhost:8428", "http://a:b@x", "file:///etc/passwd"])
def test_an_address_that_is_none_is_refused(url: str) -> None:
    with pytest.raises(UplinkError, match="no address of a time-series server"):
        SeriesServer(url)


def test_values_that_are_no_numbers_are_left_out() -> None:
    told = {"metric": {"station": "garden"}, "values": [[0, "NaN"], [60, "1.5"]]}
    body = {"status": "success", "data": {"resultType": "matrix", "result": [told]}}
    with HTTPServer(("127.0.0.1", 0), Answer) as known:
        known.script = (200, {}, json.dumps(body).encode(), [])  # type: ignore[attr-defined]
        threading.Thread(target=known.serve_forever, args=(0.01,), daemon=True).start()
        server = SeriesServer(f"http://127.0.0.1:{known.server_port}")
        (series,) = server.ask("up", UNTIL - DAY, UNTIL, 60)
        known.shutdown()
    assert list(series.points.values()) == [1.5]
