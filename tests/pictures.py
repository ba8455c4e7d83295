"""Make the pictures of the documentation: simulated cooks, drawn by the program itself, and its
page and a report as Chromium shows them.

Run: python tests/pictures.py docs
"""

import sys
import tempfile
from datetime import date
from pathlib import Path

from browser import samplereport
from browser.gallery import shoot
from noonpot.app.picturing import picture
from noonpot.core.recording import format_recording
from noonpot.core.station import Place
from noonpot.core.sun import DayTable
from noonpot.suntable import compute
from simday import at, event, record_day, turns

UNTIL = at("10:40")


class Almanac:
    """Real sun, each day computed once."""

    def __init__(self) -> None:
        self._known: dict[tuple[Place, date], DayTable] = {}

    def day(self, place: Place, day: date) -> DayTable:
        """The table of one solar day."""
        if (place, day) not in self._known:
            self._known[place, day] = compute(place, day)
        return self._known[place, day]


def cooked(folder: Path, sun: Almanac, sky: str, seed: int) -> Path:
    """The recording of a day with bread, in a file."""
    script = [
        *turns("box", at("07:00"), at("16:00"), 2400.0, sun=sun),
        event("box", "load", at("09:00"), food="bread", mass_kg=0.7, start_c=24),
    ]
    options = {"cookers": [{"name": "box"}], "sky": sky, "seed": seed}
    recording = record_day(options, script, at("07:00"), at("16:00"), sun=sun)
    file = folder / f"{sky}-{seed}.csv"
    file.write_text(format_recording(recording), encoding="utf-8")
    return file


def main(docs: Path) -> None:
    """Draw the forecast of an ordinary cook, after two others have taught, the page, and a
    report.
    """
    sun = Almanac()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        past = [cooked(folder, sun, "clear", 1), cooked(folder, sun, "broken", 2)]
        drawn = picture(cooked(folder, sun, "broken", 5), UNTIL, past)
        (docs / "forecast.svg").write_text(drawn, encoding="utf-8")
        shoot(docs, folder, sun)
        samplereport.shoot(docs, folder, sun)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
