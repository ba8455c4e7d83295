"""What other people's stations say, and what must not be taken for a number."""

import json
from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot_hw.payload import number_in

NUMBERS: Mapping[str, tuple[bytes, str, float]] = {
    "plain": (b"612.5", "", 612.5),
    "with the line end of a shell": (b"612.5\n", "", 612.5),
    "whole": (b"0", "", 0.0),
    "below zero": (b"-7.25", "", -7.25),
    "with an exponent": (b"6.1e2", "", 610.0),
    "under a key": (b'{"sun": 612.5, "wind": 3}', "sun", 612.5),
    "deep under keys": (b'{"roof": {"sun": {"ghi": 612.5}}}', "roof.sun.ghi", 612.5),
    "a text that is a number": (b'{"sun": "612.5"}', "sun", 612.5),
    "under a key with a blank": (b'{"solar radiation": 5}', "solar radiation", 5.0),
    "at the very edge": (b"1600", "", 1600.0),
}


@pytest.mark.parametrize(("payload", "key", "value"), NUMBERS.values(), ids=NUMBERS)
def test_a_number_is_understood(payload: bytes, key: str, value: float) -> None:
    assert number_in(payload, key) == Measured(value)


BAD: Mapping[str, tuple[bytes, str, FaultKind]] = {
    "nothing": (b"", "", FaultKind.GARBLED),
    "a word": (b"cloudy", "", FaultKind.GARBLED),
    "a number and its unit": (b"612 W/m2", "", FaultKind.GARBLED),
    "a decimal comma": (b"612,5", "", FaultKind.GARBLED),
    "an underscore": (b"1_000", "", FaultKind.GARBLED),
    "no number at all": (b"nan", "", FaultKind.GARBLED),
    "without end": (b"inf", "", FaultKind.GARBLED),
    "no text": (b"\xff\xfe\x00", "", FaultKind.GARBLED),
    "an object without a key to look for": (b'{"sun": 5}', "", FaultKind.GARBLED),
    "not JSON": (b"sun=612", "sun", FaultKind.GARBLED),
    "JSON cut off": (b'{"sun": 61', "sun", FaultKind.GARBLED),
    "JSON with NaN": (b'{"sun": NaN}', "sun", FaultKind.GARBLED),
    "another key": (b'{"wind": 3}', "sun", FaultKind.GARBLED),
    "a key within a number": (b'{"sun": 5}', "sun.ghi", FaultKind.GARBLED),
    "a list": (b"[612]", "sun", FaultKind.GARBLED),
    "null": (b'{"sun": null}', "sun", FaultKind.GARBLED),
    "true": (b'{"sun": true}', "sun", FaultKind.GARBLED),
    "an object": (b'{"sun": {}}', "sun", FaultKind.GARBLED),
    "digits without end": (b'{"sun": ' + b"9" * 4000 + b"}", "sun", FaultKind.GARBLED),
    "nested without end": (b'{"sun":' + b"[" * 4000, "sun", FaultKind.GARBLED),
    "far too long": (b"5" + b" " * 4096, "", FaultKind.GARBLED),
    "a station's word for unknown": (b"-999", "", FaultKind.OUT_OF_RANGE),
    "all bits set": (b"65535", "", FaultKind.OUT_OF_RANGE),
    "brighter than any sun": (b"1601", "", FaultKind.OUT_OF_RANGE),
}


@pytest.mark.parametrize(("payload", "key", "kind"), BAD.values(), ids=BAD)
def test_whatever_else_is_said_is_a_named_fault_with_its_reason(
    payload: bytes, key: str, kind: FaultKind
) -> None:
    outcome = number_in(payload, key)
    assert isinstance(outcome, Defect)
    assert outcome.kind is kind
    assert outcome.detail
    assert len(outcome.detail) < 200


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from(["sun", "wind"]), inner),
)


@given(payload=st.binary() | ANYTHING.map(lambda said: json.dumps(said).encode()))
def test_no_message_whatever_is_an_exception(payload: bytes) -> None:
    for key in ("", "sun", "sun.wind"):
        outcome = number_in(payload, key)
        if isinstance(outcome, Measured):
            assert -60 <= outcome.value <= 1600
