"""Counts hostile cases, and holds every one of them against what is promised: no error but our own,
each a sentence; nobody waits; no secret comes out.
"""

import logging
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from noonpot.errors import NoonpotError

MARK = "MARKED7f3a"
"""Stands in every secret that a case knows, and must stand nowhere else."""
LONGEST_S = 1.0
LONGEST_SENTENCE = 2000


class LeakError(AssertionError):
    """A secret stands where everybody reads."""


@dataclass
class Tally:
    """The account of one kind of input. ``longest_s`` is processor time, which does not grow with
    what else the machine does [s].
    """

    what: str
    cases: int = 0
    longest_s: float = 0.0
    ends: Counter[str] = field(default_factory=Counter)

    def case(self, act: Callable[[], object]) -> object:
        """Let it happen. Returns what came of it, None for an error of ours."""
        begun_s = time.thread_time()
        outcome: object = None
        try:
            outcome = act()
        except NoonpotError as error:
            self.ends[type(error).__name__] += 1
            hold_sentence(str(error))
        else:
            self.ends["taken"] += 1
        took_s = time.thread_time() - begun_s
        self.cases += 1
        self.longest_s = max(self.longest_s, took_s)
        assert took_s <= LONGEST_S, f"{took_s:.2f} s for one case"
        return outcome

    def __str__(self) -> str:
        ends = ", ".join(f"{count} {name}" for name, count in self.ends.most_common())
        return f"{self.cases} cases, longest {1000 * self.longest_s:.0f} ms, findings 0; {ends}"


def hold_sentence(text: str) -> None:
    """Fail unless these are words for a person, one line each, and hold no secret."""
    hold_secret(text)
    for line in text.split("\n"):
        assert line.strip(), f"an empty line in {text!r}"
        assert len(line) <= LONGEST_SENTENCE, f"{len(line)} letters: {line[:200]!r}"


def hold_secret(text: str) -> None:
    """Fail when a secret stands in it."""
    if MARK in text:
        raise LeakError(text[:500])


class _Ear(logging.Handler):
    def __init__(self) -> None:
        super().__init__()
        self.leaks: list[str] = []
        self.failures: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        text = self.format(record)
        if MARK in text:
            self.leaks.append(text)
        if record.exc_info or record.levelno >= logging.ERROR:
            self.failures.append(text)


@contextmanager
def listening() -> Iterator[None]:
    """Read all that is logged, and fail when it holds a secret or tells of a failure of ours."""
    ear, root = _Ear(), logging.getLogger()
    before = root.level
    root.addHandler(ear)
    root.setLevel(logging.INFO)
    try:
        yield
    finally:
        root.removeHandler(ear)
        root.setLevel(before)
    assert ear.leaks[:1] == []
    assert ear.failures[:1] == []
