"""The demonstration shows its simulated day on the page, too."""

import re
import signal
import subprocess
import sys
from pathlib import Path

import httpx

from broker import listens, until
from noonpot.app.demo import END, START
from noonpot.core.moment import utc
from web.described import hold


def test_the_page_of_the_demo_shows_its_day(tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [sys.executable, "-m", "noonpot", "demo", "--rate", "300"]
    with out.open("wb") as file:
        process = subprocess.Popen(command, stdout=file, stderr=file)

    def port() -> int:
        found = re.search(rb"http://localhost:(\d+)", out.read_bytes())
        return int(found[1]) if found else 0

    try:
        for _ in range(3):  # sun and probes take a while on a small machine
            try:
                until(lambda: port() > 0 and listens(port()), "the page is there")
                break
            except AssertionError:
                assert process.poll() is None, out.read_text()
        address = f"http://localhost:{port()}"
        with httpx.Client(base_url=address, event_hooks={"response": [hold]}) as client:
            until(lambda: "box/now" in client.get("/api/now").json()["topics"], "it is shown")
            now = client.get("/api/now").json()
            until(lambda: bool(client.get("/api/cooks").json()["cooks"]), "a cook is there")
            station = client.get("/api/station").json()
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(30)
    assert START <= utc(now["time"]) <= END
    assert station["station"] == "orchard"
