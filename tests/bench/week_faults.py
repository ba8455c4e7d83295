"""What is made to go wrong in the week, and by what name it must be told."""

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from noonpot.core.alert import Alert
from noonpot.core.stationfacts import OWN

AFTERMATH_S = 1200.0
"""So long after a fault is mended its alarms may still come: their delays, and a gathered phone."""
LOST = ("no-news", "food-unknown", "danger-zone")
"""What follows of itself where a probe is not gone by."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of fault: the alarm and the words that name it right, the alarms that follow rightly
    (``also``), the bus it can befall ("" for any, "station" for the station itself), whether it is
    there from loading on, when it ends if nobody mends it [s], and how long it must stand before
    it can be told from the usual (``needs_s``, by the numbers of the rules). ``hot``: in a cold pot
    it makes no difference.
    """

    name: str
    alarm: str
    words: str
    also: tuple[str, ...] = LOST
    bus: str = ""
    loading: bool = False
    limit_s: float = 3600.0
    needs_s: float = 60.0
    hot: bool = False

    def names(self, alert: Alert) -> bool:
        """Whether this alert gives it its right name."""
        return alert.alarm == self.alarm and re.search(self.words, alert.text) is not None


CROOKED = ("turn", "sky", "rescue")
FAR_OFF = r"sun is (3[5-9]|[4-9]\d)° off"
"""By the hour a sun that is followed is never so far off."""
TILL_SEEN_S = 36_000.0
"""A probe does not go back into the food by itself."""
KINDS = (
    Kind("unplugged", "probe", "not answering|do not answer", bus="w1"),
    Kind("noisy", "probe", "noisy cable", bus="w1"),
    Kind("start-value", "probe", "start value", bus="w1"),
    Kind("starved", "probe", "too little power", bus="w1"),
    Kind("frozen", "probe", "does not move", limit_s=7200.0, needs_s=2700.0),
    Kind("open", "probe", "not connected", bus="spi"),
    Kind("grounded", "probe", "touches metal", bus="spi"),
    Kind("silent", "probe", "board silent", bus="spi"),
    Kind("shorted", "probe", "two wires touch", bus="spi", limit_s=7200.0, needs_s=2700.0),
    Kind("reversed", "probe", "wired backwards", bus="spi", needs_s=660.0),
    Kind(
        "pulled-out", "probe-out", "not in the food", limit_s=TILL_SEEN_S, needs_s=180.0, hot=True
    ),
    Kind(
        "never-in",
        "probe-out",
        "not in the food",
        loading=True,
        limit_s=TILL_SEEN_S,
        needs_s=1500.0,
    ),
    Kind("swapped", "probe-out", "swapped", loading=True, limit_s=TILL_SEEN_S, needs_s=1800.0),
    Kind("lid-open", "lid", "Lid open", also=(*LOST, *CROOKED), needs_s=180.0, hot=True),
    Kind(
        "blown-over",
        "lid",
        "blown over",
        also=(*LOST, *CROOKED),
        limit_s=7200.0,
        needs_s=1080.0,
        hot=True,
    ),
    Kind("aimed-wrong", "turn", FAR_OFF, also=CROOKED, limit_s=10_800.0, needs_s=600.0),
    Kind(
        "knocked-aside",
        "lid",
        "Knocked aside",
        also=CROOKED,
        limit_s=10_800.0,
        needs_s=1500.0,
        hot=True,
    ),
    Kind("bus-hung", "probe", "hangs", bus="w1", limit_s=900.0),
)
STATION_KINDS = (
    Kind("away-8-min", "restart", "was off", bus="station", limit_s=480.0),
    Kind("clock-step", "clock", "clock corrected", also=("turn",), bus="station", limit_s=2400.0),
)
SHARED = ("bus-hung",)
"""The probe for air hangs on that bus, too, and serves all cookers."""


@dataclass(slots=True)
class Injected:
    """One fault. All times on the monotonic clock [s]: when it began and ended, when the right
    alert was raised, and when the phone had it. ``pot_c`` is what the pot had at the beginning;
    ``instead`` are the alerts about doubts of the same cooker that did not name it.
    """

    kind: Kind
    cooker: str
    probe: str
    begun_s: float
    pot_c: float
    core_c: float
    ended_s: float | None = None
    raised_s: float | None = None
    heard_s: float | None = None
    instead: list[str] = field(default_factory=list)

    @property
    def too_short(self) -> bool:
        """Whether it was over before anybody could have named it, and nobody did."""
        lasted_s = (self.begun_s if self.ended_s is None else self.ended_s) - self.begun_s
        return self.raised_s is None and lasted_s < self.kind.needs_s

    def stands(self, now_s: float) -> bool:
        """Whether its alarms may come now."""
        return now_s - AFTERMATH_S <= (self.ended_s if self.ended_s is not None else now_s)

    def concerns(self, alert: Alert) -> bool:
        """Whether it can be what an alert is about."""
        return self.kind.name in SHARED or self.cooker in (alert.cooker, OWN)


def deck(chance: random.Random, days: int, cooks_a_day: int) -> Sequence[Sequence[Kind | None]]:
    """For each day its faults, one for a cook, every third cook sound; all kinds in turn."""
    cards: list[Kind | None] = []
    while len(cards) < days * cooks_a_day:
        kinds = list(KINDS)
        chance.shuffle(kinds)
        cards += kinds
    for index in range(2, len(cards), 3):
        cards.insert(index, None)
    return [cards[day * cooks_a_day : (day + 1) * cooks_a_day] for day in range(days)]
