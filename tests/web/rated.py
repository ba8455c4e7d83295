"""Stands for the process that rates cookers: it answers at once, or when it is told to."""

import threading
from collections.abc import Mapping

from noonpot.app.seasons import Season, season_json
from noonpot.core.foods import Food
from noonpot.core.learning import Knowledge
from noonpot.core.merit import merit
from noonpot.core.moment import utc
from noonpot.core.ratejson import profile_json, rating_json
from noonpot.core.rating import cooking_power
from noonpot.core.recommendation import Cell
from noonpot.core.station import CookerSpec, Place

SPEC = CookerSpec("box")
BREAD = Food("bread", 90.0)
AT = utc("2026-06-15T10:40:00Z")


class Rater:
    """Counts what it is asked. While ``go`` is not set, everybody waits."""

    def __init__(self, *, at_once: bool = True) -> None:
        self.asked: list[tuple[str, ...]] = []
        self.at_work = self.most_at_work = 0
        self.go = threading.Event()
        if at_once:
            self.go.set()

    def rating(self, cooker: str) -> Mapping[str, object]:
        self._work(cooker)
        known = profile_json(cooker, None, {})
        return rating_json(cooker, known, cooking_power([]), merit([], None))

    def foods(self, cooker: str, sky: str) -> Mapping[str, object]:
        self._work(cooker, sky)
        season = Season(SPEC, Knowledge(), Place(40.0, -105.0, 1600.0), {"bread": BREAD})
        cells = [Cell("bread", month, sky, 0.9, 7200.0, AT, AT) for month in range(1, 13)]
        return season_json(season, sky, cells)

    def _work(self, *asked: str) -> None:
        self.asked.append(asked)
        self.at_work += 1
        self.most_at_work = max(self.most_at_work, self.at_work)
        self.go.wait(30)
        self.at_work -= 1
