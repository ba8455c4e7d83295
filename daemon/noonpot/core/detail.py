"""The detail of an event in one cell: ``key=value`` pairs, or free words kept under ``text``."""

import json
import re
from collections.abc import Mapping

KEY = r'[^\s="]+'
QUOTED = r'"(?:[^"\\]|\\.)*"'
# A bare value may hold spaces: it ends where the next key begins. Each word is looked at once, so
# that a long detail takes no longer than its length.
BARE = rf'[^\s="]*(?:\s+(?!{KEY}=)[^\s="]+)*'
PAIR = re.compile(rf"({KEY})=({QUOTED}|{BARE})(?:\s+(?={KEY}=)|\s*$)")
MOST_SHOWN = 60


def quoted(text: str) -> str:
    """What somebody wrote, in the quotes of a sentence about it; cut when it is long.

    >>> quoted("x" * 1000) == repr("x" * 60) + "…"
    True
    """
    return repr(text[:MOST_SHOWN]) + ("…" if len(text) > MOST_SHOWN else "")


def detail_text(detail: Mapping[str, str]) -> str:
    """The detail of an event as one line; a value that might be misread stands in double quotes.

    Raises ValueError for a key that holds a space, an equals sign or a quote.

    >>> detail_text({"food": "bean stew", "text": "x=1"})
    'food=bean stew text="x=1"'
    """
    for key in detail:
        if not re.fullmatch(KEY, key):
            raise ValueError(f"detail key {quoted(key)} must be one word without = and quotes")
    return " ".join(f"{key}={_quoted(value)}" for key, value in detail.items())


def parse_detail(text: str) -> dict[str, str]:
    """The detail that a line tells. Raises ValueError when its pairs cannot be told apart.

    >>> parse_detail("food=bean stew mass_kg=1.2")
    {'food': 'bean stew', 'mass_kg': '1.2'}
    >>> parse_detail("stirred twice")
    {'text': 'stirred twice'}
    """
    text = text.strip()
    if not re.match(f"{KEY}=", text):
        return {"text": text} if text else {}
    detail: dict[str, str] = {}
    end = 0
    while end < len(text):
        pair = PAIR.match(text, end)
        if pair is None:
            raise ValueError(
                f"detail {quoted(text[end:])} cannot be read as key=value; "
                "put a value that holds = or quotes in double quotes"
            )
        key, value = pair.groups()
        detail[key] = _unquoted(value)
        end = pair.end()
    return detail


def _quoted(value: str) -> str:
    plain = value.isprintable() and value == value.strip() and not set(value) & set('="')
    return value if plain else json.dumps(value)


def _unquoted(value: str) -> str:
    if not value.startswith('"'):
        return value
    try:
        return str(json.loads(value))
    except ValueError:
        raise ValueError(
            f"detail value {quoted(value)} is not quoted rightly; "
            "a backslash in it is written twice"
        ) from None
