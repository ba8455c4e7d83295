"""All bars in one place: what a measured figure must not leave."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bar:
    """What a figure must not leave, with so many ``digits`` behind the point; no rounding helps."""

    name: str
    least: float
    most: float
    unit: str = ""
    digits: int = 3

    def told(self) -> str:
        """The bar as text."""
        low = f"{self.least:g}-" if self.least else ""
        return f"{low}{self.most:g}{self.unit}"

    def holds(self, value: float) -> bool:
        """Whether a value is within."""
        return self.least <= value <= self.most

    def judged(self, value: float, more: str = "") -> str:
        """A figure as text, and whether it misses the bar; ``more`` follows the figure."""
        missed = "" if self.holds(value) else ", missed"
        return f"{value:.{self.digits}f}{self.unit}{more}{missed}"


def free(name: str, unit: str, digits: int) -> Bar:
    """A figure that nothing was promised about."""
    return Bar(name, 0, math.inf, unit, digits)


# The daemon.
MEMORY = Bar("resident memory of the daemon", 0, 80, " MB", 0)
PROCESSOR = Bar("share of one core, 8 probes every 2 s", 0, 2, " %", 2)
FIRST_READING = Bar("start to first reading", 0, 1.5, " s", 2)
ALERT = Bar("change of a probe to alert at the broker's listener", 0, 2.3, " s", 2)
AFTER_READ = Bar("of this, after the probe was read", 0, 0.3, " s", 4)

# The store.
BYTES = Bar("bytes a reading in the file", 0, 16, "", 1)
WRITTEN = Bar("written to disk a day", 0, 200, " MB", 0)

# The forecast.
CLEAR = Bar("clear days, error over that of the line", 0, 0.35)
WORST = Bar("clear days, the same for the worst cooker", 0, 1.0)
ALL = Bar("all days, error over that of the line", 0, 0.45)
COVER_CLEAR = Bar("coverage of the 80 % interval, clear days", 73, 87, " %", 1)
COVER_ALL = Bar("coverage of the 80 % interval, all days", 73, 87, " %", 1)
BRIER = Bar("Brier score of the chance, all days", 0, 0.12)
TIME = Bar("one forecast, median", 0, 50, " ms", 0)
FORECAST = Bar("one forecast, with a light sensor", 0, TIME.most, " ms", 1)
BLIND_FORECAST = Bar("one forecast, without one", 0, TIME.most, " ms", 1)
REPLAY = Bar("replay of 9 h read every 2 s, a forecast every 10 min", 0, 5, " s", 2)
SLOW_REPLAY = Bar("the same with a row a minute", 0, REPLAY.most, " s", 2)
FIRST_REPLAY = Bar("this, when the sun of the day is not known yet", 0, REPLAY.most, " s", 2)

# The page.
YEAR = Bar("curve of a year, 10 million readings: the server", 0, 50, " ms", 1)
COLD_YEAR = Bar("the same, the file not in memory", 0, YEAR.most, " ms", 0)
PAGE_BYTES = Bar("the first view, without its data", 0, 120, " KB", 1)
USABLE = Bar("first values in the browser", 0, 1, " s", 2)
LIVE = Bar("live values in the browser", 0, USABLE.most, " s", 2)

PROMISED = (
    *(MEMORY, PROCESSOR, FIRST_READING, ALERT, AFTER_READ, BYTES, WRITTEN),
    *(FORECAST, BLIND_FORECAST, REPLAY, SLOW_REPLAY, FIRST_REPLAY),
    *(YEAR, COLD_YEAR, PAGE_BYTES, USABLE, LIVE),
)
"""What ``make bench`` measures; how well the forecast tells is ``make bench-forecast``."""
