"""What a cooker can be recommended for: foods by months by skies, at one place."""

from dataclasses import dataclass
from datetime import datetime

from noonpot.core.dayahead import DayAhead
from noonpot.core.season import Outcome

SKIES = ("clear", "thin", "broken")
GOOD, FAIR = 0.8, 0.5


@dataclass(frozen=True, slots=True)
class Cell:
    """One food in one month under one sky: the chance of being done, how long it takes [s], when it
    should go in, and the last hour with a good chance; None for what cannot be told.
    """

    food: str
    month: int
    sky: str
    chance: float
    takes_s: float | None
    load_at: datetime | None
    latest_at: datetime | None

    @property
    def verdict(self) -> str:
        """One of "good", "fair" and "poor", by the chance as it is told."""
        told = round(self.chance, 2)
        return "good" if told >= GOOD else "fair" if told >= FAIR else "poor"


def cell_of(food: str, month: int, sky: str, day: DayAhead, found: Outcome) -> Cell:
    """A cell from what was reckoned for a day of its month."""
    return Cell(
        food,
        month,
        sky,
        found.chance,
        found.takes_s,
        None if found.load_step is None else day.time_of(found.load_step),
        None if found.latest_step is None else day.time_of(found.latest_step),
    )
