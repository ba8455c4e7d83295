"""Whatever is sent to ``do/…``: taken, answered or counted, and the station hears the next one."""

import json
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from broker import Broker, until
from endurance.extent import FULL, Tell, chance
from endurance.fuzz_hostile import damaged, json_tokens, texts
from endurance.fuzz_tally import Tally, listening
from endurance.fuzz_targets import TOKEN, Desk
from noonpot.core.orders import PHONE_VERBS
from stations import station, wait_open

MANY = 50_000 if FULL else 30
BAR = "each taken, answered or counted, no longer than 1 s, no secret"
ROOT = "noonpot/garden"
RIGHT: dict[str, dict[str, object]] = {
    "aim": {"azimuth": 94.5, "elevation": 37.0},
    "load": {"food": "bread", "mass_kg": 0.6, "start_c": 27.0, "target_c": 90},
    "unload": {},
    "mark": {"what": "spot", "core_c": 81.5},
    "acknowledge": {"alarm": "done"},
    "shelve": {"alarm": "turn", "minutes": 30},
}
RAW = ["id", "time", "token"]


@st.composite
def bodies(draw: st.DrawFn) -> tuple[str, str]:
    """A verb, and a right command of it as JSON in which some values, or keys, are others."""
    verb = draw(st.sampled_from(sorted(RIGHT)))
    keys = [*RAW, *RIGHT[verb]]
    parts = {key: json.dumps(value) for key, value in RIGHT[verb].items()}
    number = draw(st.integers(0, 10**9))
    parts |= {"id": json.dumps(f"command-{number:08d}"), "time": "TIME", "token": json.dumps(TOKEN)}
    for _ in range(draw(st.integers(0, 3))):
        key = draw(st.one_of(st.sampled_from(keys), st.sampled_from(keys), texts))
        if draw(st.booleans()):
            parts[key] = draw(json_tokens)
        else:
            parts.pop(key, None)
    pairs = [f"{json.dumps(key)}: {value}" for key, value in parts.items()]
    if draw(st.integers(0, 9)) == 0:
        pairs.append(pairs[0] if pairs else '"id": 1')
    return verb, f"{{{', '.join(pairs)}}}"


topics = st.one_of(
    st.sampled_from(
        [
            f"{ROOT}/{cooker}/do/{verb}"
            for cooker in ("box", "tin", "station", "")
            for verb in (*PHONE_VERBS, "stop", "")
        ]
    ),
    texts.map(lambda text: f"{ROOT}/box/do/{text}"),
    texts.map(lambda text: f"{ROOT}/{text}/do/aim"),
    texts,
    st.just(f"{ROOT}/" * 5000),
)
right = json.dumps({"id": "command-1", "time": "TIME", "token": TOKEN, **RIGHT["load"]})
valid = right.replace('"TIME"', "TIME").encode()
rough = st.one_of(
    damaged(valid), st.sampled_from([b"x" * 1_000_000, b"[" * 4096, b'{"a":' * 800, b""])
)


def test_no_command_does_harm(figure: Tell) -> None:
    tally, desk = Tally("commands"), Desk()

    @settings(
        max_examples=MANY, database=None, deadline=None, suppress_health_check=list(HealthCheck)
    )
    @example(("load", valid.decode()), 0, b"", "")
    @given(
        body=bodies(),
        way=st.integers(0, 19),
        other=rough,
        topic=topics,
    )
    def run(body: tuple[str, str], way: int, other: bytes, topic: str) -> None:
        verb, text = body
        raw = other if way in (1, 2) else text.encode(errors="surrogatepass")
        raw = raw.replace(b"TIME", json.dumps(desk.time()).encode(), 1)
        to = topic if way == 3 else f"{ROOT}/box/do/{verb}"
        tally.case(lambda: desk.hear(to, raw, retained=way == 4))

    with listening():
        run()
    assert desk.taken > 0
    reasons = ", ".join(f"{n} {name}" for name, n in sorted(desk.health.counts.items()))
    figure(20, "hostile commands", f"{tally}: {reasons}", BAR)


@pytest.mark.parametrize("protocol", ["5", "3.1.1"] if FULL else ["5"])
def test_a_flood_through_the_broker_leaves_the_station_listening(
    tmp_path: Path, figure: Tell, protocol: str
) -> None:
    rng, desk, count = chance(), Desk(), 5000 if FULL else 50
    with (
        Broker(tmp_path / "broker") as broker,
        listening(),
        station(broker.port, protocol=protocol, commands=desk.commands) as notifier,
    ):
        wait_open(notifier)
        stranger = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="stranger")
        stranger.max_queued_messages_set(0)
        stranger.connect("127.0.0.1", broker.port)
        stranger.loop_start()
        sent = [stranger.publish(*spoilt(rng), qos=1) for _ in range(count)]
        for message in sent:
            message.wait_for_publish(30)
        last = {"id": "command-last", "time": desk.time(), "token": TOKEN, "alarm": "done"}
        stranger.publish(f"{ROOT}/box/do/acknowledge", json.dumps(last), qos=1)
        until(lambda: desk.taken > 0, "the last command is taken")
        stranger.disconnect()
        stranger.loop_stop()
        assert desk.taken == 1
        assert notifier.problem is None
    heard = sum(desk.health.counts.values())
    figure(20, f"flood through the broker, MQTT {protocol}", f"{count} sent, {heard} heard", BAR)


def spoilt(rng: random.Random) -> tuple[str, bytes]:
    """A topic that a broker carries, and a command with some bytes that are others."""
    verb = rng.choice([*PHONE_VERBS, "x", "stop", "é"])
    body = bytearray(valid)
    for _ in range(rng.randint(1, 8)):
        body[rng.randrange(len(body))] = rng.randrange(256)
    piece = rng.choice([b"", b"\0", b"[" * 3000, b"9" * 5000, b"\xed\xa0\x80", b"x" * 100_000])
    at = rng.randrange(len(body))
    return f"{ROOT}/{rng.choice(['box', 'tin', 'station'])}/do/{verb}", bytes(body[:at] + piece)
