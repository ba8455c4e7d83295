"""A kitchen with a clock that is wrong for a while: real store, real inbox, real alarms."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Self

from endurance.extent import FULL
from engine.kitchen import HOUSE, PROBES, STATION, watch_at
from fakes import FakeClock, RecordingNotifier
from noonpot.core.cook import Event, EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import Moment, is_plausible
from noonpot.core.readings import Fault, FaultKind, Reading, Sample
from noonpot.core.stationfacts import OWN
from noonpot.engine.clockguard import ClockGuard
from noonpot.engine.daylight import Daylight
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.ports import Health
from noonpot.store.inbox import FileInbox, hand_in
from noonpot.store.sqlite import Store
from simday import HILL, SimpleSun, at

TRUE = at("09:00")
"""What the clock of the village shows when the kitchen's shows whatever it likes."""
POLL_S = 20.0
SINK = "influx"
FIRST_MONO_S = 60.0
DAY_S, YEAR_S = 86_400.0, 31_557_600.0
STEPS_S = [-2.0, 2.0, -3600.0, 3600.0, -DAY_S, DAY_S, 56 * YEAR_S, -10 * YEAR_S]

WRONG_S = {
    "1970": (datetime(1970, 1, 1, 0, 1, tzinfo=UTC) - TRUE).total_seconds(),
    "an hour ago": -3600.0,
    "yesterday": -DAY_S,
    "ten years ago": -10 * YEAR_S,
    "in 56 years": 56 * YEAR_S,
}
"""What a Pi without a clock of its own may show when it boots: nothing at all, or the last time it
knew, or what a broken battery makes of that.
"""


@dataclass(frozen=True, slots=True)
class Raised:
    """One alert, and when it was raised by the monotonic clock [s]."""

    cooker: str
    alarm: str
    mono_s: float


@dataclass
class Kitchen:
    """One cooker, lived through round by round. ``error_s`` is how far the clock is off at first
    [s]; ``trusted`` whether it claims to be right.
    """

    folder: Path
    error_s: float = 0.0
    trusted: bool = True
    raised: list[Raised] = field(default_factory=list)
    danger_at_end_s: float = 0.0

    def __enter__(self) -> Self:
        self.clock = FakeClock(TRUE + timedelta(seconds=self.error_s), FIRST_MONO_S)
        self.clock.trust(self.trusted and is_plausible(self.clock.moment().at))
        self.store = Store(self.folder / "noonpot.db", self.clock)
        self.store.register(PROBES)
        self.inbox = FileInbox(self.folder / "inbox", self.store.knows_event, self.clock)
        self.notifier = RecordingNotifier()
        self.sky = Daylight(HILL, SimpleSun())
        self._fetch()
        self._known: set[str] = set()
        self.begin()
        return self

    def _fetch(self) -> None:
        """Have the sun at hand; without it no forecast is made, and they take the longest here."""
        if FULL:
            self.sky.fetch(self.clock.moment().at)

    def begin(self) -> None:
        """The daemon starts, for the first time or again."""
        self.watch = watch_at(self.clock, self.sky)
        self._guard = ClockGuard(self.clock.moment())
        self._pipeline = Pipeline(
            STATION.name,
            [self.watch],
            {p.name: ProbeFilter() for p in PROBES},
            self.store,
            [self.notifier],
            Health(),
            own=StationWatch(HOUSE, self.clock.moment()),
            commit_s=60,
        )
        self._pipeline.resume(self.clock.moment())

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def true(self, mono_s: float) -> datetime:
        """The time in the village at a time of the monotonic clock."""
        return TRUE + timedelta(seconds=mono_s - FIRST_MONO_S)

    def right(self) -> None:
        """The network comes, and the clock with it."""
        now = self.clock.moment()
        self.clock.step_wall((self.true(now.mono_s) - now.at).total_seconds())
        self.clock.trust(True)

    def step(self, seconds: float) -> None:
        """The clock jumps, as one that somebody sets."""
        self.clock.step_wall(seconds)
        self.clock.trust(is_plausible(self.clock.moment().at))

    def say(self, kind: EventKind, **detail: str) -> str:
        """Hand in a letter, as the command line does."""
        event = Event("box", self.clock.moment().at, kind, detail)
        return hand_in(self.folder / "inbox", event, clock=self.clock)

    def round(self, samples: Sequence[Sample] = ()) -> None:
        """One round of the daemon, as ``engine/rounds.py`` turns it."""
        now = self.clock.moment()
        if (step := self._guard.check(now)) is not None:
            self._pipeline.clock_stepped(step, now)
            self._fetch()
        letters = self.inbox.take()
        refused = self._pipeline.round(now, samples, [letter.event for letter in letters])
        for index, letter in enumerate(letters):
            if index in refused:
                self.inbox.refuse(letter, refused[index])
            else:
                self.inbox.done(letter)
        for alert in self.store.unsent("phone", 1000):
            if alert.id not in self._known:
                self._known.add(alert.id)
                self.raised.append(Raised(alert.cooker, alert.alarm, now.mono_s))

    def live(self, seconds: float, core_c: float = 40.0, *, lame: bool = False) -> None:
        """So long with food at this temperature; ``lame`` is a probe in the shade that is lost."""
        for _ in range(round(seconds / POLL_S)):
            self.round(readings(self.clock.advance(POLL_S), core_c, lame=lame))

    def written(self) -> None:
        """Have everything written that waits."""
        self._pipeline.write(self.clock.moment())

    @property
    def danger_s(self) -> float:
        """For how long the food stood lukewarm [s]."""
        safety = self.watch.facts(self.clock.moment()).safety
        assert safety is not None
        return safety.course.danger_s

    def alarms(self) -> list[tuple[str, float]]:
        """What was raised about the cooker, with its monotonic time."""
        return [(r.alarm, r.mono_s) for r in self.raised if r.cooker != OWN]

    def own_alarms(self) -> list[str]:
        """What the station said of itself."""
        return [r.alarm for r in self.raised if r.cooker == OWN]

    def shown(self) -> Mapping[str, Mapping[str, object]]:
        """All states that stay at the broker, by topic."""
        return self.notifier.shown


def readings(now: Moment, core_c: float, *, lame: bool) -> list[Sample]:
    """A pot that warms, food that hardly does, and the air in the shade."""
    wobble = now.mono_s % 7 / 10
    shade: Sample = Reading("shade", now.at, now.mono_s, 24.0 + wobble)
    if lame:
        shade = Fault("shade", now.at, now.mono_s, FaultKind.NOT_ANSWERING, "gone")
    return [
        Reading("box-pot", now.at, now.mono_s, 95.0 + wobble),
        Reading("box-core", now.at, now.mono_s, core_c + wobble),
        Reading("box-core-2", now.at, now.mono_s, core_c + wobble),
        shade,
    ]
