"""The number in a message: the whole of it, or one value in a JSON object."""

import json
import math

from noonpot.core.readings import Defect, FaultKind, Measured

MOST_BYTES = 4096
LOWEST, HIGHEST = -60.0, 1600.0
"""Whatever is measured here, °C or W/m², lies between; stations like to say -999 for "unknown"."""


def number_in(payload: bytes, key: str = "") -> Measured | Defect:
    """The number that a message says; ``key`` leads to it in a JSON object, levels joined by dots.

    >>> number_in(b"612.5").value
    612.5
    >>> number_in(b'{"roof": {"sun": 612.5}}', "roof.sun").value
    612.5
    >>> number_in(b"cloudy").kind
    <FaultKind.GARBLED: 'garbled'>
    """
    if len(payload) > MOST_BYTES:
        return Defect(FaultKind.GARBLED, f"a message of more than {MOST_BYTES} bytes")
    try:
        said = _at(json.loads(payload), key) if key else payload.decode()
        number = _number(said)
    except (ValueError, OverflowError, RecursionError):
        number = None
    except LookupError:
        return Defect(FaultKind.GARBLED, f"nothing under the key {key} in {_quoted(payload)}")
    if number is None or not math.isfinite(number):
        return Defect(FaultKind.GARBLED, f"no number in {_quoted(payload)}")
    if not LOWEST <= number <= HIGHEST:
        return Defect(FaultKind.OUT_OF_RANGE, f"{number:g}")
    return Measured(number)


def _at(said: object, key: str) -> object:
    """What stands under a key. Raises KeyError when nothing does."""
    for level in key.split("."):
        if not isinstance(said, dict):
            raise KeyError(level)
        said = said[level]
    return said


def _number(said: object) -> float | None:
    """Many stations write their numbers as texts, so a text that is a number counts as one."""
    if isinstance(said, bool) or not isinstance(said, int | float | str):
        return None
    if isinstance(said, str) and "_" in said:  # 1_000 is a number to Python, and to nobody else
        return None
    return float(said)


def _quoted(payload: bytes) -> str:
    return repr(payload[:40].decode(errors="replace")) + ("…" if len(payload) > 40 else "")
