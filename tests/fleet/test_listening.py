"""Many stations through a real broker: what it has in store, last wills, floods, rights."""

import getpass
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Self

import pytest
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from broker import Broker, Phone, program, until
from certificates import make_certificates
from fleet.play import Played, alarm, body, garden
from fleet.stage import Stage
from noonpot.app.fleetwatching import FleetWatch, named
from noonpot.clock import SystemClock
from noonpot.core.stationline import Line, State
from noonpot.errors import ConfigError, NotifierError

CLOCK = SystemClock()
QUIET_S = 0.2


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as running:
        yield running


class AsItComes(Broker):
    """mosquitto that was told nothing: it queues at most 1000 messages for a client."""

    def start(self) -> Self:
        self.folder.mkdir(parents=True)
        config = self.folder / "mosquitto.conf"
        lines = (f"user {getpass.getuser()}", f"listener {self.port} 127.0.0.1")
        config.write_text("\n".join((*lines, "allow_anonymous true")))
        self._process = subprocess.Popen([program("mosquitto"), "-c", config])
        until(self._answers, "mosquitto answers")
        return self


def watching(broker: Broker) -> FleetWatch:
    return FleetWatch(named(f"127.0.0.1:{broker.port}", None, None, None), CLOCK)


def line(watch: FleetWatch, key: str) -> Line | None:
    return next((one for one in watch.lines() if one.key == key), None)


def pots(watch: FleetWatch) -> dict[str, float | None]:
    return {one.key: one.stand.pot_c if one.stand else None for one in watch.lines() if one.cooker}


def expected(stations: list[Played], minute: int) -> dict[str, float]:
    return {f"{s.name}/{c}": s.pot_c(c, minute) for s in stations for c in s.cookers}


def test_all_that_is_in_store_is_there_at_the_start_and_then_all_that_comes(
    broker: Broker,
) -> None:
    stations = [Played(number) for number in range(5)]
    with Stage(broker.port, stations) as stage:
        stage.begin()
        with watching(broker) as early, watching(broker) as late:
            until(lambda: pots(early) == expected(stations, 0), "the first minute is heard")
            late.settle(QUIET_S)
            assert pots(late) == expected(stations, 0)
            assert {one.state for one in late.lines()} == {State.ONLINE}
            stage.minute(1)
            until(lambda: pots(late) == expected(stations, 1), "the second minute is heard")
            assert late.board.counts["heard"] == late.board.counts["shown"]


def test_the_last_will_of_a_station_that_died_is_shown_and_its_numbers_are_old(
    broker: Broker,
) -> None:
    stations = [Played(0), Played(1)]
    with Stage(broker.port, stations) as stage, watching(broker) as watch:
        stage.begin()
        until(lambda: pots(watch) == expected(stations, 0), "both are heard")
        before = CLOCK.moment().at
        stage.die(stations[0])
        until(lambda: _state(watch, "garden-00000/box") is State.OFFLINE, "the will is heard")
        dead, alive = line(watch, "garden-00000/box"), line(watch, "garden-00001/box")
        assert dead is not None
        assert alive is not None
        assert (dead.live, alive.live) == (False, True)
        assert dead.since is not None
        assert dead.since >= before
        assert dead.stand is not None  # what it said last, and when
        assert watch.lines()[0].station == "garden-00000"


def _state(watch: FleetWatch, key: str) -> State | None:
    found = line(watch, key)
    return found.state if found else None


def test_when_the_broker_goes_nothing_is_of_now_until_it_is_back(broker: Broker) -> None:
    stations = [Played(0)]
    with Stage(broker.port, stations) as stage, watching(broker) as watch:
        stage.begin()
        until(lambda: pots(watch) == expected(stations, 0), "it is heard")
        broker.kill()
        until(lambda: watch.problem != "", "the break is noticed")
        assert [one.live for one in watch.lines() if one.cooker] == [False, False]
        broker.start()
        until(lambda: watch.problem == "" and all(one.live for one in watch.lines()), "all is back")


def test_a_flood_from_one_hand_hides_no_station(broker: Broker) -> None:
    flooder = mqtt.Client(CallbackAPIVersion.VERSION2)
    flooder.connect("127.0.0.1", broker.port)
    flooder.loop_start()
    with watching(broker) as watch:
        until(lambda: watch.problem == "", "it listens")
        told = garden()
        for topic, payload in told.items():
            flooder.publish(topic, body(payload), qos=1, retain=True)
        hostile = body({**alarm(), "text": "<img src=x onerror=alert(1)>" + "\x1b[2J" * 50})
        for number in range(300):
            flooder.publish("noonpot/garden/box/alarm/done", hostile)
            flooder.publish(f"noonpot/garden/box/alarm/a-{number}", b"\x00" * 100)
        sent = len(told) + 600
        until(lambda: watch.board.counts.get("heard", 0) == sent, "all is heard")
        (found,) = watch.lines()
        assert watch.board.counts["malformed"] == 300
        assert len(found.alarms) == 1
        assert "\x1b" not in found.alarms[0].said.text
    flooder.disconnect()
    flooder.loop_stop()


def test_a_broker_that_queues_little_tells_all_that_it_has_in_store(tmp_path: Path) -> None:
    teller = mqtt.Client(CallbackAPIVersion.VERSION2)
    with AsItComes(tmp_path / "broker") as broker, Phone(broker.port, "last") as phone:
        teller.connect("127.0.0.1", broker.port)
        teller.loop_start()
        for number in range(1200):
            told = body({**alarm(), "station": f"garden-{number}"})
            teller.publish(f"noonpot/garden-{number}/box/alarm/done", told, qos=1, retain=True)
        teller.publish("last", b"{}", qos=1)
        phone.wait_for("last")
        with watching(broker) as watch:
            until(lambda: watch.board.counts.get("shown", 0) == 1200, "all is heard")
    teller.disconnect()
    teller.loop_stop()


def test_a_changed_line_is_told_once_and_a_moving_number_never(broker: Broker) -> None:
    stations = [Played(0)]
    stop = threading.Event()
    with Stage(broker.port, stations) as stage, watching(broker) as watch:
        stage.begin()
        until(lambda: pots(watch) == expected(stations, 0), "it is heard")
        looks = watch.changes(stop, look_s=0.01, most=1)
        assert [one.key for one in next(looks)] == ["garden-00000/box", "garden-00000/dish"]
        stage.show(stations[0], "box/now", {"time": "none"})
        stage.calm_minute(stations[0], 1)
        until(lambda: pots(watch) == expected(stations, 1), "the minute is heard")
        assert list(next(looks)) == []
        for cooker in stations[0].cookers:
            stage.raise_alarm(stations[0], cooker, "done")
        until(lambda: all(one.alarms for one in watch.lines()), "the alarms are heard")
        assert [one.key for one in next(looks)] == ["garden-00000/box"]
        assert [one.key for one in next(looks)] == ["garden-00000/dish"]  # kept for another look
        stop.set()
        assert list(looks) == []
        assert watch.board.counts["malformed"] == 1


def test_a_password_and_a_certificate_let_in_and_a_wrong_one_is_told(tmp_path: Path) -> None:
    made = make_certificates(tmp_path / "certificates")
    users = tmp_path / "users"
    users.write_text("watcher:secret\n")
    users.chmod(0o600)
    subprocess.run([program("mosquitto_passwd"), "-U", users], check=True, capture_output=True)
    (tmp_path / "good").write_text("secret\n")
    (tmp_path / "bad").write_text("guess\n")
    for name in ("good", "bad"):
        (tmp_path / name).chmod(0o600)
    access = (
        f"cafile {made.ca}",
        f"certfile {made.server}",
        f"keyfile {made.server_key}",
        f"password_file {users}",
    )
    with Broker(tmp_path / "broker", *access) as broker:
        where = f"127.0.0.1:{broker.port}"
        with FleetWatch(named(where, "watcher", tmp_path / "good", made.ca), CLOCK) as watch:
            watch.settle(QUIET_S)
            assert watch.lines() == []
        assert named("127.0.0.1", None, None, made.ca).port == 8883
        bad = named(where, "watcher", tmp_path / "bad", made.ca)
        with (
            FleetWatch(bad, CLOCK) as refused,
            pytest.raises(NotifierError, match="check username and password"),
        ):
            refused.settle(QUIET_S)


@pytest.mark.parametrize("broker_name", ["localhost:", "localhost:0", ":1883", "localhost:x"])
def test_a_broker_that_is_none_is_told_with_what_to_write(broker_name: str) -> None:
    with pytest.raises(ConfigError, match="must be host:port, such as localhost:1883"):
        named(broker_name, None, None, None)


def test_a_password_that_all_may_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "open").write_text("secret")
    (tmp_path / "open").chmod(0o644)
    with pytest.raises(ConfigError, match="chmod 600"):
        named("localhost", "watcher", tmp_path / "open", None)
