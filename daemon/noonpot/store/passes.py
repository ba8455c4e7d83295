"""Two passes over the same rows: what a server has taken goes once more when a minute is over."""

from collections import deque
from collections.abc import Mapping
from math import floor

from noonpot.store.streams import END, EVENTS, STREAMS
from noonpot.store.takeback import SLACK_S, UNDOABLE_S

Positions = dict[str, int]
"""The number of the last row, by stream."""

RIPE_S = UNDOABLE_S + SLACK_S + 8.0
"""After so long a server is sure to have written down what it took, and no event changes [s]."""


class Passes:
    """How far one server has been served. ``first`` is where the first pass stands; the second may
    follow up to ``ripe``. ``flying`` are the ends of what is on its way now, by pass.
    """

    def __init__(self, settled: Positions) -> None:
        self.first = dict(settled)
        self.ripe: Positions = {}
        self.flying: tuple[Positions, Positions] = ({}, {})
        self._events = -1
        self._marks: deque[tuple[float, Positions, int]] = deque()

    def open_ends(self) -> Positions:
        """Up to where the first pass may go: no event that can still be taken back."""
        return {**dict.fromkeys(STREAMS, END), EVENTS: self._events}

    def landed(self, at_s: float, newest_event: int) -> None:
        """The server has what was flying, at this monotonic time [s]."""
        self.first |= self.flying[0]
        self.flying = ({}, {})
        at_s = floor(at_s)
        if self._marks and at_s <= self._marks[-1][0]:
            self._marks.pop()  # within a second one mark will do
        self._marks.append((at_s, dict(self.first), newest_event))
        while self._marks[0][0] <= at_s - RIPE_S:
            _, self.ripe, self._events = self._marks.popleft()

    def rewind(self, before: Mapping[str, int]) -> None:
        """Set every position of a stream back so far, if it is not."""
        marks = [positions for _, positions, _ in self._marks]
        for positions in (self.first, self.ripe, *self.flying, *marks):
            for stream, position in before.items():
                if positions.get(stream, -1) > position:
                    positions[stream] = position
