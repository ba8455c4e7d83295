"""Files that somebody else wrote: configurations, recordings, letters in the inbox."""

import json
from functools import partial
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from endurance.extent import FULL, Tell
from endurance.fuzz_hostile import (
    DEEP,
    SECRET_LINES,
    cells,
    changed,
    changed_lines,
    damaged,
    json_tokens,
    toml_tokens,
)
from endurance.fuzz_tally import MARK, Tally, listening
from endurance.fuzz_targets import CONFIGURATION, RECORDING, Household, Porch, replay

MANY = 20_000 if FULL else 30
BAR = "every error a sentence of ours, none longer than 1 s, no secret"
fuzzed = settings(
    max_examples=MANY, database=None, deadline=None, suppress_health_check=list(HealthCheck)
)
LETTER = {
    "cooker": "box",
    "at": "2026-06-03T07:00:00+00:00",
    "kind": "load",
    "detail": {"food": "bread", "mass_kg": "0.6"},
}

configurations = st.one_of(
    changed_lines("= ", toml_tokens, SECRET_LINES).map(
        lambda changes: changed(CONFIGURATION, changes).encode(errors="surrogatepass")
    ),
    changed_lines("= ", toml_tokens, SECRET_LINES).map(
        lambda changes: changed(CONFIGURATION, changes).encode(errors="surrogatepass")
    ),
    damaged(CONFIGURATION.encode()),
)
recordings = st.one_of(
    changed_lines(",", cells).map(
        lambda changes: changed(RECORDING, changes).encode(errors="surrogatepass")
    ),
    changed_lines(": ", cells).map(
        lambda changes: changed(RECORDING, changes).encode(errors="surrogatepass")
    ),
    changed_lines("=", cells).map(
        lambda changes: changed(RECORDING, changes).encode(errors="surrogatepass")
    ),
    damaged(RECORDING.encode()),
)
letter_lines = "{\n" + ",\n".join(f'"{k}": {json.dumps(v)}' for k, v in LETTER.items()) + "\n}"
letters = st.one_of(
    changed_lines(": ", st.one_of(json_tokens, json_tokens.map(lambda token: f"{token},"))).map(
        lambda changes: changed(letter_lines, changes).encode(errors="surrogatepass")
    ),
    st.builds(
        lambda key, token: letter_lines.replace(json.dumps(LETTER[key]), token).encode(
            errors="surrogatepass"
        ),
        st.sampled_from(list(LETTER)),
        json_tokens,
    ),
    st.builds(
        lambda key, token: (
            letter_lines.replace('"0.6"', f"{key}: {token}")
            .replace('"mass_kg": ', "")
            .encode(errors="surrogatepass")
        ),
        st.sampled_from(['"mass_kg"', '"uid"', '"a b"', r'"\ud800"', '""']),
        json_tokens,
    ),
    damaged(letter_lines.encode()),
)
names = st.one_of(
    st.binary(min_size=1, max_size=200).map(
        lambda raw: raw.replace(b"/", b"_").replace(b"\0", b"_") + b".json"
    ),
    st.just(b"1780470000.000000-000001-abc.json"),
)


def test_no_configuration_does_harm(tmp_path: Path, figure: Tell) -> None:
    tally, household = Tally("configurations"), Household(tmp_path)

    @fuzzed
    @given(text=configurations)
    @example(CONFIGURATION.encode())
    @example(CONFIGURATION.replace("8080", "[" * DEEP).encode())
    @example(CONFIGURATION.replace("8080", "9" * 3000).encode())
    @example(CONFIGURATION.replace("8080", "0x" + "f" * 3400).encode())
    @example(CONFIGURATION.replace("America/Denver", "a" + "/b" * 90).encode())
    @example(CONFIGURATION.replace("good-password", MARK).encode())
    def run(text: bytes) -> None:
        tally.case(lambda: household.configure(text))

    with listening():
        run()
    assert tally.ends["taken"] > 0
    figure(20, "hostile configurations", str(tally), BAR)


def test_no_recording_does_harm(figure: Tell) -> None:
    tally = Tally("recordings")

    @fuzzed
    @given(text=recordings)
    @example(RECORDING.encode())
    @example(RECORDING.replace("2026-06-03T18:24:00Z", "9999-12-31T23:59:59-23:00").encode())
    @example(RECORDING.replace("food=bread", f"food={' ' * 20_000}x").encode())
    def run(text: bytes) -> None:
        tally.case(lambda: replay(text))

    run()
    assert tally.ends["taken"] > 0
    figure(20, "hostile recordings", str(tally), BAR)


def test_no_letter_does_harm(tmp_path: Path, figure: Tell) -> None:
    tally, porch = Tally("letters"), Porch(tmp_path / "inbox")
    taken = 0

    @fuzzed
    @given(name=names, body=letters)
    @example(b"a.json", letter_lines.encode())
    @example(b"a.json", letter_lines.replace("bread", r"\ud800").encode())
    @example(b"a.json", letter_lines.replace("2026-06-03T07", "0001-01-01T00").encode())
    @example(b"\xff.json", letter_lines.encode())
    def run(name: bytes, body: bytes) -> None:
        nonlocal taken
        found = tally.case(lambda: porch.put(name, body))
        assert isinstance(found, int)
        taken += found

    run()
    assert taken > 0
    figure(20, "hostile letters", str(tally), BAR)


FILLINGS = (b"a", b"[", b"\n", b"#", b'"', b"a=1\n", b"a.", b"[[a]]\n", b"a = [\n", b"a.b.c.d=1\n")


@pytest.mark.skipif(not FULL, reason="long files take long: NOONPOT_ENDURANCE=full")
@pytest.mark.parametrize("size", [300_000, 1_000_000])
def test_a_file_of_any_length_is_answered_at_once(tmp_path: Path, size: int) -> None:
    tally, household = Tally("long files"), Household(tmp_path)
    for filling in FILLINGS:
        text = filling * (size // len(filling))
        tally.case(partial(household.configure, text))
        tally.case(partial(replay, text))
        tally.case(partial(replay, RECORDING.encode() + text))
