"""How dark a field of the table is for its chance."""

from typing import NamedTuple

from noonpot.core.paper import INK, PAPER
from noonpot.core.recommendation import FAIR, GOOD, Cell


class Tone(NamedTuple):
    """From which chance on a field looks so; its ground, its number, and what it is called."""

    least: float
    ground: str
    ink: str
    words: str


TONES = (
    Tone(0.95, "#004b76", "#ffffff", "95 and more"),
    Tone(GOOD, "#0a6ba5", "#ffffff", "80 to 94"),
    Tone(FAIR, "#9fcbe4", INK, "50 to 79"),
    Tone(0.2, "#dfedf4", INK, "20 to 49"),
    Tone(0.0, PAPER, INK, "under 20"),
)


def tone_of(cell: Cell) -> Tone:
    """How a field looks, by the chance as it is told."""
    return next(tone for tone in TONES if round(cell.chance, 2) >= tone.least)


def number_of(chance: float) -> str:
    """The chance in percent; never 0 or 100 for what is merely likely.

    >>> number_of(0.0), number_of(0.004), number_of(0.91), number_of(0.999)
    ('0', '<1', '91', '>99')
    """
    if 0.0 < chance <= 0.005:  # that itself would be rounded to 0
        return "<1"
    return ">99" if chance >= 0.995 else f"{100 * chance:.0f}"
