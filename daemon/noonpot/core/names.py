"""Names of cookers, probes, foods and stations, and what a mistyped one was meant to be."""

import re
from collections.abc import Iterable
from difflib import get_close_matches

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
LONGEST = 40


def is_name(text: str) -> bool:
    """Whether the text can be a name: fit to be a part of a message topic and of a file name.

    >>> is_name("box-1"), is_name("Box 1"), is_name("a/b"), is_name("")
    (True, False, False, False)
    """
    return len(text) <= LONGEST and NAME.fullmatch(text) is not None


def meant(word: str, known: Iterable[str]) -> str:
    """What to try instead of a word that is not known: the nearest one, or the whole choice.

    >>> meant("latitud", ["latitude", "longitude"])
    'did you mean latitude?'
    >>> meant("xyz", ["pot", "core"])
    'choose from core, pot'
    """
    choice = sorted(known)
    near = get_close_matches(word.lower(), choice, n=1, cutoff=0.65)
    return f"did you mean {near[0]}?" if near else f"choose from {', '.join(choice)}"
