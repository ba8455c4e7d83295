"""Values from a real broker: believed while they are new, and only if somebody just said them."""

import subprocess
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from paho.mqtt.publish import single

from broker import Broker, free_port, program, until
from certificates import make_certificates
from fakes import FakeClock
from hw.surroundings import surroundings
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Signal
from noonpot_hw import listener
from noonpot_hw.topic import open_bus

SUN = "weather/roof/sun"
ALL = "weather/roof/all"


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a broken line be tried again at once."""
    monkeypatch.setattr(listener, "RETRY_S", (0.05, 0.05))


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with Broker(tmp_path / "broker") as running:
        yield running


def say(broker: Broker, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
    """Somebody else's station says something; returns when the broker has it."""
    single(topic, payload, qos=1, retain=retain, hostname="127.0.0.1", port=broker.port)


@contextmanager
def listening(port: int, clock: FakeClock, *topics: str, **options: object) -> Iterator[Bus]:
    given = {"host": "127.0.0.1", "port": port, "topics": list(topics or [SUN]), **options}
    with closing(open_bus(given, surroundings(clock))) as bus:
        yield bus


def wait_detail(bus: Bus, words: str, address: str = SUN) -> Defect:
    """Wait until a reading fails for this reason."""
    found: list[Defect] = []

    def said() -> bool:
        outcome = bus.read(address)
        if isinstance(outcome, Defect) and words in outcome.detail:
            found.append(outcome)
        return bool(found)

    until(said, f"a defect with {words!r}")
    return found[0]


def listeners() -> list[threading.Thread]:
    return [t for t in threading.enumerate() if "noonpot-hears" in t.name]


def wait_subscribed(bus: Bus, address: str = SUN) -> None:
    wait_detail(bus, "nothing heard yet", address)


def wait_value(bus: Bus, value: float, address: str = SUN) -> None:
    until(lambda: bus.read(address) == Measured(value), f"{address} says {value}")


def test_what_a_station_says_is_a_reading(broker: Broker) -> None:
    addresses = (SUN, f"{ALL}#sun", f"{ALL}#air.temp_c")
    with listening(broker.port, FakeClock(), *addresses) as bus:
        wait_subscribed(bus)
        assert [found.address for found in bus.scan()] == list(addresses)
        say(broker, SUN, "612.5")
        say(broker, ALL, '{"sun": 598, "air": {"temp_c": "23.4"}}')
        wait_value(bus, 612.5)
        wait_value(bus, 598.0, f"{ALL}#sun")
        wait_value(bus, 23.4, f"{ALL}#air.temp_c")
        say(broker, SUN, "130")
        wait_value(bus, 130.0)


def test_a_retained_value_of_unknown_age_waits_for_a_live_one(broker: Broker) -> None:
    say(broker, SUN, "800", retain=True)
    with listening(broker.port, FakeClock()) as bus:
        assert wait_detail(bus, "only a retained value").kind is FaultKind.NOT_ANSWERING
        # Many stations ask for each value to be retained; to who listens it is new all the same.
        say(broker, SUN, "650", retain=True)
        wait_value(bus, 650.0)


def test_a_value_grows_stale(broker: Broker) -> None:
    clock = FakeClock()
    with listening(broker.port, clock) as bus:
        wait_subscribed(bus)
        say(broker, SUN, "700")
        wait_value(bus, 700.0)
        clock.advance(120)
        assert bus.read(SUN) == Measured(700.0)
        clock.advance(1)
        assert bus.read(SUN) == Defect(FaultKind.NOT_ANSWERING, "last value 121 s ago")
        say(broker, SUN, "705")
        wait_value(bus, 705.0)


def test_how_soon_it_is_stale_can_be_set(broker: Broker) -> None:
    clock = FakeClock()
    with listening(broker.port, clock, stale_s=600) as bus:
        wait_subscribed(bus)
        say(broker, SUN, "700")
        wait_value(bus, 700.0)
        clock.advance(599)
        assert bus.read(SUN) == Measured(700.0)


def test_a_retained_value_that_comes_again_with_a_new_connection_is_not_new(broker: Broker) -> None:
    clock = FakeClock()
    with listening(broker.port, clock, SUN, ALL) as bus:
        wait_subscribed(bus)
        say(broker, SUN, "700", retain=True)
        wait_value(bus, 700.0)
        clock.advance(100)
        broker.stop()
        broker.start()

        def connected() -> bool:
            say(broker, ALL, "1")
            return bus.read(ALL) == Measured(1.0)

        until(connected, "the bus hears the broker again")
        assert bus.read(SUN) == Measured(700.0)
        clock.advance(30)
        assert bus.read(SUN) == Defect(FaultKind.NOT_ANSWERING, "last value 130 s ago")


def test_nonsense_is_a_named_fault_until_the_next_number(broker: Broker) -> None:
    with listening(broker.port, FakeClock()) as bus:
        wait_subscribed(bus)
        say(broker, SUN, "700")
        wait_value(bus, 700.0)
        say(broker, SUN, "offline")
        assert wait_detail(bus, "no number in 'offline'").kind is FaultKind.GARBLED
        say(broker, SUN, b"7" * 200_000)
        assert wait_detail(bus, "more than 4096 bytes").kind is FaultKind.GARBLED
        say(broker, SUN, "-999")
        assert wait_detail(bus, "-999").kind is FaultKind.OUT_OF_RANGE
        say(broker, SUN, "720")
        wait_value(bus, 720.0)


def test_a_broker_that_is_not_there_is_a_value_and_may_come(tmp_path: Path) -> None:
    broker = Broker(tmp_path / "broker")
    with listening(broker.port, FakeClock()) as bus:
        told = wait_detail(bus, "cannot be reached")
        assert told.kind is FaultKind.NOT_ANSWERING
        assert f"127.0.0.1 port {broker.port}" in told.detail
        with broker:
            wait_subscribed(bus)
            say(broker, SUN, "500")
            wait_value(bus, 500.0)


def test_a_stale_value_tells_why_nothing_newer_came(broker: Broker) -> None:
    clock = FakeClock()
    with listening(broker.port, clock) as bus:
        wait_subscribed(bus)
        say(broker, SUN, "700")
        wait_value(bus, 700.0)
        broker.stop()
        clock.advance(121)
        wait_detail(bus, f"last value 121 s ago; 127.0.0.1 port {broker.port} cannot be reached")


def test_a_listener_that_meets_an_exception_tries_again(caplog: pytest.LogCaptureFixture) -> None:
    # paho lets the error of such a name end its thread
    with listening(1883, FakeClock(), host="a..b") as bus:
        wait_detail(bus, "listening to a..b port 1883 fails: ")
        until(lambda: len(caplog.records) >= 2, "it is tried again")
    until(lambda: not listeners(), "its thread ends")


class TalkativeClock(FakeClock):
    """While somebody waits on this clock, a station speaks."""

    def __init__(self, broker: Broker) -> None:
        super().__init__()
        self._broker = broker
        self.waits = 0

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        assert 0 < timeout_s <= 5
        self.waits += 1

        def heard() -> bool:
            say(self._broker, SUN, "640")
            return signal.wait(0.02)

        until(heard, "the value is heard")
        return True


def test_the_first_read_waits_for_a_station_that_speaks_often(broker: Broker) -> None:
    clock = TalkativeClock(broker)
    with listening(broker.port, clock) as bus:
        assert bus.read(SUN) == Measured(640.0)
        assert clock.waits == 1


def test_a_silent_station_holds_up_the_first_reads_and_no_later_ones(broker: Broker) -> None:
    clock = FakeClock()
    begun_s = clock.moment().mono_s
    with listening(broker.port, clock, SUN, ALL) as bus:
        for address in (SUN, ALL, SUN, ALL):
            assert isinstance(bus.read(address), Defect)
    assert clock.moment().mono_s - begun_s == 5.0


def test_an_address_that_is_not_of_the_bus_is_not_heard(broker: Broker) -> None:
    with listening(broker.port, FakeClock()) as bus:
        assert bus.read(ALL) == Defect(
            FaultKind.NOT_ANSWERING, f"{ALL} is none of the topics {SUN}"
        )


def test_no_thread_stays_behind(broker: Broker) -> None:
    until(lambda: not listeners(), "the threads of other tests end")
    with listening(broker.port, FakeClock()) as bus:
        wait_subscribed(bus)
        assert len(listeners()) == 1
    until(lambda: not listeners(), "the thread of an open line ends")
    with listening(free_port(), FakeClock()) as bus:
        wait_detail(bus, "cannot be reached")
    until(lambda: not listeners(), "the thread of a line that never opened ends")


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Broker]:
    """A broker that wants TLS and the password of the user ``cook``."""
    made = make_certificates(tmp_path / "certificates")
    passwords = tmp_path / "passwords"
    login = ("-b", "-c", str(passwords), "cook", "sunny side")
    subprocess.run([program("mosquitto_passwd"), *login], check=True, capture_output=True)
    access = (
        f"cafile {made.ca}",
        f"certfile {made.server}",
        f"keyfile {made.server_key}",
        "allow_anonymous false",
        f"password_file {passwords}",
    )
    with Broker(tmp_path / "broker", *access) as broker:
        yield broker


def secret(folder: Path, name: str, text: str, mode: int = 0o600) -> str:
    file = folder / name
    file.write_text(text)
    file.chmod(mode)
    return str(file)


def test_a_guarded_broker_lets_us_in(guarded: Broker, tmp_path: Path) -> None:
    ca = str(tmp_path / "certificates" / "ca.crt")
    login = {"username": "cook", "password_file": secret(tmp_path, "pw", "sunny side\n")}

    with listening(guarded.port, FakeClock(), tls_ca=ca, **login) as bus:
        wait_subscribed(bus)
        single(
            SUN,
            "700",
            qos=1,
            hostname="127.0.0.1",
            port=guarded.port,
            auth={"username": "cook", "password": "sunny side"},
            tls={"ca_certs": ca},
        )
        wait_value(bus, 700.0)


def test_a_bus_closed_while_it_connects_does_not_listen_on(guarded: Broker, tmp_path: Path) -> None:
    until(lambda: not listeners(), "the threads of other tests end")
    ca = str(tmp_path / "certificates" / "ca.crt")
    login = {"username": "cook", "password_file": secret(tmp_path, "pw", "sunny side")}
    guarded.freeze()
    with listening(guarded.port, FakeClock(), tls_ca=ca, **login):
        until(guarded.has_unread, "the handshake has begun")
    guarded.thaw()
    until(lambda: not listeners(), "the thread ends")


def test_a_wrong_password_is_named_and_not_shown(guarded: Broker, tmp_path: Path) -> None:
    ca = str(tmp_path / "certificates" / "ca.crt")
    login = {"username": "cook", "password_file": secret(tmp_path, "pw", "rainy side")}
    with listening(guarded.port, FakeClock(), tls_ca=ca, **login) as bus:
        told = wait_detail(bus, "check username and password")
        assert "rainy" not in told.detail


@pytest.mark.parametrize("name", ["weather", "secret_weather"])
def test_a_password_can_be_a_credential_of_the_service(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, guarded: Broker, name: str
) -> None:
    (tmp_path / "credentials").mkdir()
    secret(tmp_path / "credentials", name, "sunny side")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path / "credentials"))
    ca = str(tmp_path / "certificates" / "ca.crt")
    login = {"username": "cook", "password_file": "weather", "tls_ca": ca}
    with listening(guarded.port, FakeClock(), **login) as bus:
        wait_subscribed(bus)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"topic": SUN}, "option 'topic' is unknown; did you mean"),
        ({}, "topics is None; give a list"),
        ({"topics": SUN}, f"topics is '{SUN}'; give a list"),
        ({"topics": []}, "topics is []; give a list"),
        ({"topics": [5]}, "topics holds 5; give a topic"),
        ({"topics": ["weather/#"]}, "topics holds 'weather/#'; give a topic without + and #"),
        ({"topics": ["weather/+/sun"]}, "topics holds 'weather/+/sun'; give a topic"),
        ({"topics": [SUN], "stale_s": "120"}, "stale_s is '120'; give seconds"),
        ({"topics": [SUN], "stale_s": 0}, "stale_s is 0; it must be between 1 and 3600"),
        ({"topics": [SUN], "host": ""}, "host is ''; give the name"),
        ({"topics": [SUN], "port": "1883"}, "port is '1883'; give a whole number"),
        ({"topics": [SUN], "port": 70_000}, "port is 70000; give a whole number"),
        ({"topics": [SUN], "username": "cook"}, "give both username and password_file"),
        ({"topics": [SUN], "username": 5, "password_file": "x"}, "username is 5; give a name"),
        ({"topics": [SUN], "tls_ca": "/nowhere/ca.pem"}, "holds no certificate that can be read"),
    ],
)
def test_a_wrong_option_is_named(options: dict[str, object], sentence: str) -> None:
    with pytest.raises(BusError, match="topic: ") as caught:
        open_bus(options, surroundings(FakeClock()))
    assert sentence in str(caught.value)


def test_a_password_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    picture = tmp_path / "picture"
    picture.write_bytes(b"\x89PNG\xff\xd8")
    for file, sentence in (
        (secret(tmp_path, "open", "abc", 0o644), "everybody may read that file; run chmod 600"),
        (str(tmp_path / "missing"), "it cannot be read: No such file"),
        (str(picture), "it holds no text"),
        ("pw", "password_file is 'pw'; give a full path"),
        ("secrets/pw", "password_file is 'secrets/pw'; give a full path"),
    ):
        options = {"topics": [SUN], "username": "cook", "password_file": file}
        with pytest.raises(BusError) as caught:
            open_bus(options, surroundings(FakeClock()))
        assert sentence in str(caught.value)
