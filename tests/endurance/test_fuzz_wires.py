"""What comes over wires, whatever it is: a number that can be believed, or a named defect."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from endurance.extent import FULL, Tell
from endurance.fuzz_hostile import cells, damaged, json_tokens
from endurance.fuzz_tally import Tally, hold_sentence
from fakes import FakeClock
from hw.i2c import Ads1115, I2cBench
from hw.spi import SpiBench, word
from hw.surroundings import surroundings
from hw.sysfs import W1Tree, crc8, scratchpad, slave_text
from noonpot.core.readings import Defect, Measured
from noonpot.errors import BusError
from noonpot_hw import ads1115, ds18b20, max31855, replayed, simulated
from noonpot_hw.broker_access import access_of
from noonpot_hw.payload import number_in

BAR = "a number that can be or a named defect, no longer than 1 s"
ADDRESS = "28-0316a2795fff"
LOWEST, HIGHEST = -60.0, 1600.0


def extent(full: int, short: int) -> settings:
    """So many cases."""
    return settings(
        max_examples=full if FULL else short,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )


def judged(tally: Tally, found: object) -> Measured | None:
    """The measured value, None for a defect; fails for anything else."""
    if isinstance(found, Measured):
        assert math.isfinite(found.value)
        assert LOWEST <= found.value <= HIGHEST
        tally.ends["measured"] += 1
        return found
    assert isinstance(found, Defect)
    assert len(found.detail) <= 300
    hold_sentence(found.detail)
    tally.ends[f"{found.kind}"] += 1
    return None


sound_text = st.integers(-55 * 16, 125 * 16).map(lambda steps: slave_text(scratchpad(steps / 16)))
mixed = st.builds(
    slave_text,
    st.binary(min_size=9, max_size=9),
    st.binary(min_size=9, max_size=9),
)
checked = st.binary(min_size=8, max_size=8).map(
    lambda eight: slave_text(eight + bytes([crc8(eight)]))
)
lines = st.lists(
    st.one_of(
        st.sampled_from(
            ["YES", "NO", "t=85000", "t=", "t=" + "9" * 5000, "t=-1_0", "crc=8a", ": "]
        ),
        st.sampled_from(slave_text(scratchpad(20.0)).split()),
        st.text(max_size=10),
    ),
    max_size=30,
).map(" ".join)
kernel_texts = st.one_of(
    sound_text.map(str.encode),
    mixed.map(str.encode),
    checked.map(str.encode),
    lines.map(lambda text: text.replace(" t=", "\n t=").encode(errors="surrogatepass")),
    damaged(slave_text(scratchpad(63.5)).encode()),
)


def test_no_text_of_the_kernel_passes_for_what_it_is_not(tmp_path: Path, figure: Tell) -> None:
    tally, tree = Tally("sysfs texts"), W1Tree(tmp_path)
    tree.set(ADDRESS, 20.0)
    bus = ds18b20.open_bus({"base": str(tree.base), "min_read_s": 0}, surroundings(FakeClock()))
    file = tree.base / ADDRESS / "w1_slave"

    @extent(30_000, 30)
    @given(text=kernel_texts)
    @example(slave_text(scratchpad(63.5)).encode())
    def run(text: bytes) -> None:
        file.write_bytes(text)
        found = judged(tally, tally.case(lambda: bus.read(ADDRESS)))
        if found is not None:  # then the bytes are sound, by a checksum written in another way
            first = text.decode("ascii", errors="replace").splitlines()[0]
            nine = bytes.fromhex(first[:27])
            assert crc8(nine[:8]) == nine[8]
            assert found.value == pytest.approx(
                int.from_bytes(nine[:2], "little", signed=True) / 16, abs=0.07
            )

    run()
    assert tally.ends["measured"] > 0
    figure(20, "hostile sysfs texts", str(tally), BAR)


words = st.one_of(
    st.binary(min_size=4, max_size=4),
    st.builds(
        lambda hot, board, cause: word(hot, board, cause).to_bytes(4, "big"),
        st.floats(-270, 1800),
        st.floats(-55, 125),
        st.integers(0, 7),
    ),
    st.integers(0, 31).map(lambda bit: (word(150.0, 30.0) ^ 1 << bit).to_bytes(4, "big")),
    st.sampled_from([bytes(4), b"\xff" * 4, b"\0", b""]),
)


def test_no_spi_word_passes_for_what_it_is_not(
    tmp_path: Path, figure: Tell, monkeypatch: pytest.MonkeyPatch
) -> None:
    tally, bench, clock = Tally("SPI words"), SpiBench(tmp_path), FakeClock()
    bench.install(monkeypatch)
    node = bench.node("spidev0.0", word(20.0))
    bus = max31855.open_bus({"devices": [node]}, surroundings(clock))

    @extent(30_000, 30)
    @example([word(150.0, 30.0).to_bytes(4, "big")] * 2)
    @given(sent=st.lists(words.filter(lambda sent: len(sent) == 4), min_size=2, max_size=3))
    def run(sent: list[bytes]) -> None:
        clock.advance(20.0)
        numbers = [int.from_bytes(each, "big") for each in sent]
        bench.send(node, *numbers)
        if judged(tally, tally.case(lambda: bus.read(node))) is not None:
            # Source of the reserved and the fault bits: MAX31855 data sheet, table 2.
            assert all(number & (1 << 17 | 1 << 16 | 0b1111) == 0 for number in numbers[:2])

    run()
    bus.close()
    assert tally.ends["measured"] > 0
    figure(20, "hostile SPI words", str(tally), BAR)


def test_no_i2c_register_passes_for_what_it_is_not(
    figure: Tell, monkeypatch: pytest.MonkeyPatch
) -> None:
    tally, chip = Tally("I2C registers"), Ads1115()
    bench = I2cBench({0x48: chip})
    bench.install(monkeypatch)
    bus = ads1115.open_bus({"mv_at_1000_wm2": 80}, surroundings(FakeClock()))

    @extent(20_000, 30)
    @example({}, None, [0.04, 0.0, 0.0, 0.0], 3, 0)
    @given(
        registers=st.dictionaries(st.integers(0, 3), st.integers(0, 0xFFFF)),
        stuck=st.one_of(st.none(), st.none(), st.binary(min_size=1, max_size=2)),
        pins=st.lists(st.floats(-1, 7), min_size=4, max_size=4),
        looks=st.sampled_from([0, 1, 3, 400]),
        refusal=st.sampled_from([0, 0, 0, 5, 16, 110, 121]),
    )
    def run(
        registers: dict[int, int],
        stuck: bytes | None,
        pins: list[float],
        looks: int,
        refusal: int,
    ) -> None:
        chip.registers.update(registers)
        chip.stuck, chip.pins, chip.looks, chip.busy, bench.refusal = stuck, pins, looks, 0, refusal
        judged(tally, tally.case(lambda: bus.read("A0-A1")))

    run()
    bus.close()
    assert tally.ends["measured"] > 0
    figure(20, "hostile I2C registers", str(tally), BAR)


payloads = st.one_of(
    json_tokens.map(lambda token: token.encode(errors="surrogatepass")),
    json_tokens.map(lambda token: f'{{"roof": {{"sun": {token}}}}}'.encode(errors="surrogatepass")),
    cells.map(lambda cell: cell.encode(errors="surrogatepass")),
    st.sampled_from([b"{" * 1_000_000, b"9" * 1_000_000]),
    damaged(b'{"roof": {"sun": 612.5}}'),
)


def test_no_message_of_a_weather_station_passes_for_what_it_is_not(figure: Tell) -> None:
    tally = Tally("weather messages")

    @extent(20_000, 30)
    @example(b"612.5", "")
    @given(payload=payloads, key=st.sampled_from(["", "roof.sun", "roof", "a.b.c.d.e.f"]))
    def run(payload: bytes, key: str) -> None:
        judged(tally, tally.case(lambda: number_in(payload, key)))

    run()
    assert tally.ends["measured"] > 0
    figure(20, "hostile weather messages", str(tally), BAR)


values = st.one_of(
    st.sampled_from(
        [0, 1, -1, 10**400, 2**70, float("nan"), float("inf"), True, [], {}, [[]], "", "\0"]
    ),
    st.text(max_size=20),
    st.floats(),
    st.integers(),
    st.lists(st.one_of(st.text(max_size=5), st.integers()), max_size=3),
    st.dictionaries(st.sampled_from(["name", "kind", "from", "sky", "x"]), st.text(max_size=5)),
)
right: dict[str, Mapping[str, object]] = {
    "ds18b20": {"base": "/sys/bus/w1/devices", "min_read_s": 0.1},
    "max31855": {"devices": ["/dev/spidev0.0"]},
    "ads1115": {
        "device": "/dev/i2c-1",
        "chip": 0x48,
        "inputs": ["A0"],
        "ma_at_1000_wm2": 30,
        "shunt_ohm": 1,
    },
    "simulated": {
        "cookers": [{"name": "box", "kind": "box", "pot": "light", "aperture_m2": 1}],
        "seed": 1,
        "sky": [{"from": "06:00", "sky": "clear"}],
        "ambient_c": 20,
        "wind_ms": 1,
        "noise_c": 0,
    },
    "replayed": {"file": "/nowhere", "cooker": "box"},
    "broker": {
        "host": "localhost",
        "port": 1883,
        "username": "a",
        "password_file": "/nowhere",
        "tls_ca": "/nowhere",
    },
}


def test_no_option_of_a_bus_does_harm(figure: Tell) -> None:
    tally, around = Tally("bus options"), surroundings(FakeClock())
    openers = {
        "ds18b20": ds18b20.open_bus,
        "max31855": max31855.open_bus,
        "ads1115": ads1115.open_bus,
        "simulated": simulated.open_bus,
        "replayed": replayed.open_bus,
    }

    @extent(10_000, 30)
    @example("max31855", [0], ["/dev/spidev0.1"])
    @given(
        driver=st.sampled_from(sorted(right)),
        keys=st.lists(st.integers(0, 5), min_size=1, max_size=2),
        value=values,
    )
    def run(driver: str, keys: list[int], value: object) -> None:
        names = list(right[driver])
        options = {**right[driver], **{names[key % len(names)]: value for key in keys}}

        def opened() -> None:
            if driver == "broker":
                access_of(options)
                return
            try:
                bus = openers[driver](options, around)
            except AssertionError:  # a garden with right options asked for the sun
                return
            for found in bus.scan():
                assert found.address
            assert isinstance(bus.read(ADDRESS), Defect)
            bus.close()

        tally.case(opened)

    run()
    assert {"taken", BusError.__name__} <= set(tally.ends)
    figure(20, "hostile bus options", str(tally), BAR)
