"""JSON as its standard has it."""

import json
from typing import NoReturn


def parsed(text: bytes) -> object:
    """The value that is written there. Raises ValueError for what Python would take and the
    standard forbids or leaves open: NaN and infinities, a key twice, a nesting without end.

    >>> parsed(b'{"a": [1, null]}')
    {'a': [1, None]}
    """
    try:
        value: object = json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    return value


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key stands there twice")
    return found


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
