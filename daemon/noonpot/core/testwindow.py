"""The hours of a day that suit a test of a cooker."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from noonpot.core import light
from noonpot.core.crosslight import across_beam
from noonpot.core.estimation import CLEAR_INDEX
from noonpot.core.station import Place
from noonpot.core.sun import DayTable

BESIDE_NOON = timedelta(hours=2)
"""S580.1, 5.5: 10:00 to 14:00 by the sun."""
WORTH = timedelta(minutes=30)
GRAIN_S = 300.0


@dataclass(frozen=True, slots=True)
class Window:
    """Hours of one day that suit a test, under a clear sky."""

    begin: datetime
    end: datetime

    @property
    def worth(self) -> bool:
        """Whether it is long enough to bother."""
        return self.end - self.begin >= WORTH


def window(table: DayTable, place: Place, since: datetime, least_wm2: float) -> Window | None:
    """The hours within two of true noon, not before ``since``, in which a clear sky gives enough
    light across the beam and nothing hides the sun; None when there are too few.
    """
    noon_s = table.start_s + table.step_s * float(np.argmax(table.elevation_deg))
    beside_s = BESIDE_NOON.total_seconds()
    begin_s = max(noon_s - beside_s, since.timestamp())
    times = np.arange(np.ceil(begin_s / GRAIN_S) * GRAIN_S, noon_s + beside_s + 1, GRAIN_S)
    times = times[(times >= table.start_s) & (times <= table.end_s)]
    if len(times) == 0:
        return None
    sky = light.clear_sky([table], place.horizon, times)
    across = across_beam(np.full(len(times), CLEAR_INDEX), sky, times)
    good = times[np.nan_to_num(across) >= least_wm2]
    if len(good) == 0:
        return None
    found = Window(*(datetime.fromtimestamp(float(s), UTC) for s in (good[0], good[-1])))
    return found if found.worth else None
