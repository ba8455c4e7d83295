"""``noonpot stations`` as a person calls it."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import Broker, Phone, free_port
from cli.terminal import Noonpot, garden
from fleet.play import Played
from fleet.stage import Stage


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """A broker with two played stations, of which one has died."""
    played = [Played(0), Played(1)]
    with (
        Broker(tmp_path / "broker") as running,
        Stage(running.port, played) as stage,
        Phone(running.port, "noonpot/#") as phone,
    ):
        stage.begin()
        for one in played:
            phone.wait_for(f"{one.name}/dish/forecast")
        stage.die(played[0])
        phone.wait_for("garden-00000/status", status="offline", last_will=True)
        yield running


def test_all_stations_are_shown_once_the_worst_first_and_as_json(
    broker: Broker, noonpot: Noonpot, tmp_path: Path
) -> None:
    where = ("--broker", f"127.0.0.1:{broker.port}")
    said = noonpot("stations", *where)
    assert said.code == 0
    head, _, names, *rows = said.out.splitlines()
    assert head.startswith("2 stations, 4 cookers; 1 offline; 0 alarms wait for an answer. At ")
    assert " ".join(names.split()) == "station cooker state cooks pot core chance done about waits"
    assert [row.split()[:3] for row in rows] == [
        ["garden-00000", "box", "offline"],
        ["garden-00000", "dish", "offline"],
        ["garden-00001", "box", "online"],
        ["garden-00001", "dish", "online"],
    ]
    assert "(90 °C)" in rows[0]
    assert " 90 °C " in rows[2]
    config = garden(tmp_path)
    config.write_text(f'{config.read_text()}\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n')
    told = json.loads(noonpot("stations", "--json", "--config", str(config)).out)
    assert [line["live"] for line in told["lines"]] == [False, False, True, True]
    assert told["counts"]["heard"] == told["counts"]["shown"]


def test_watching_tells_what_changes_until_it_is_interrupted(broker: Broker) -> None:
    where = ("--broker", f"127.0.0.1:{broker.port}")
    with subprocess.Popen(
        [sys.executable, "-m", "noonpot", "stations", "--watch", "--json", *where],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        text=True,
    ) as watch:
        assert watch.stdout is not None
        seen: dict[str, str] = {}
        while len(seen) < 4 or seen.get("garden-00000/box") != "offline":
            told = json.loads(watch.stdout.readline())
            seen[f"{told['station']}/{told['cooker']}"] = told["state"]
        watch.send_signal(signal.SIGINT)
        assert watch.wait(10) == 0
    assert seen["garden-00001/dish"] == "online"


def test_what_is_wrong_is_told_with_what_to_do(noonpot: Noonpot, tmp_path: Path) -> None:
    away = noonpot("stations", "--broker", f"127.0.0.1:{free_port()}")
    assert away.code == 1
    assert "no broker answers" in away.err
    lost = noonpot("stations", "--user", "me")
    assert (lost.code, lost.err) == (
        2,
        "--user, --password-file and --ca belong to --broker; name it as well\n",
    )
    config = garden(tmp_path)
    none = noonpot("stations", "--config", str(config))
    assert none.code == 2
    assert "it names no broker; add [mqtt], or give --broker" in none.err
    none = noonpot("stations", "compare", "--config", str(config))
    assert none.code == 2
    assert "it names no time-series server; add [influx], or give --url" in none.err
    before = noonpot("stations", "--json", "compare")
    assert (before.code, before.err) == (
        2,
        "options belong behind compare: noonpot stations compare …\n",
    )
    assert noonpot("stations", "--broker", "x:1", "--port", "70000", "--page").code == 2
