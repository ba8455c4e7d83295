"""A station on a card that fails when it is told to, with a phone that hears what it says."""

from dataclasses import replace
from pathlib import Path

from endurance.card import OK, Ask, Card
from engine.kitchen import HOUSE, PROBES, STATION, event, reading, watch_at
from fakes import FakeClock, RecordingNotifier
from noonpot.core.cook import EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Reading
from noonpot.engine.dispatcher import Dispatcher
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.ports import Health
from noonpot.store.sqlite import Store
from simday import at
from stationcases import SURVEY

POLL_S, COMMIT_S = 2.0, 10.0
COOL_C, HOT_C = 60.0, 112.0
OFTEN = 20
"""Pages of the log after which SQLite merges it, so that a short life sees that as well."""


class FailingCard(Card):
    """Does what it is asked until the n-th thing after it is spoilt; then it refuses that one, or
    all that come until it is mended.
    """

    def __init__(self) -> None:
        self.refused = 0
        self._left: int | None = None
        self._codes: dict[str, int] = {}
        self._once = False

    def spoil(self, after: int, codes: dict[str, int], *, once: bool = False) -> None:
        """From the ``after``-th thing on refuse what has a result code."""
        self.refused, self._left, self._codes, self._once = 0, after, codes, once

    def mend(self) -> None:
        """All is well again."""
        self._left = None

    def asked(self, ask: Ask) -> int:
        """What SQLite hears."""
        code = self._codes.get(ask.what)
        if self._left is None or code is None:
            return OK
        self._left = max(0, self._left - 1)
        if self._left > 0:
            return OK
        self.refused += 1
        if self._once:
            self._left = None
        return code


class FailingHouse:
    """Real rounds, a real data file, and the thread of a messenger run by hand."""

    def __init__(self, folder: Path) -> None:
        self.clock = FakeClock(at("09:00"))
        self.begun = self.clock.moment()
        self.path = folder / "noonpot.db"
        self.store = Store(self.path, self.clock)
        self.store._db.execute(f"PRAGMA wal_autocheckpoint = {OFTEN}")  # noqa: SLF001
        self.store.register(PROBES)
        self.phone = RecordingNotifier()
        self.own = StationWatch(HOUSE, self.clock.moment())
        self.pot_c = COOL_C
        self.shown: list[tuple[float, float]] = []
        self.pipeline = Pipeline(
            STATION.name,
            [watch_at(self.clock)],
            {p.name: ProbeFilter(1000.0) for p in PROBES},
            self.store,
            [self.phone],
            Health(),
            own=self.own,
        )
        self._desk = Dispatcher(self.phone, self.store, self.clock, Health())
        self._next_turn_s = 0.0
        self.pipeline.resume(self.clock.moment())
        self.happen(EventKind.START, food="bread")

    def live(self, seconds: float) -> None:
        """Rounds of all probes; the pot moves a little, so that no value is like the last."""
        for _ in range(int(seconds // POLL_S)):
            now = self.clock.advance(POLL_S)
            self.own.survey = replace(SURVEY, mono_s=now.mono_s)
            pot_c = self.pot_c + 0.25 * (len(self.shown) % 4)
            self.shown.append((now.mono_s, pot_c))
            others = [reading(p.name, now, 25.0) for p in PROBES if p.name != "box-pot"]
            self.pipeline.round(now, [reading("box-pot", now, pot_c), *others], [])
            if now.mono_s >= self._next_turn_s:
                self._next_turn_s = now.mono_s + self._desk.turn()

    def happen(self, kind: EventKind, **detail: str) -> None:
        """A person does something, and it fits."""
        now = self.clock.advance(1)
        assert self.pipeline.round(now, [], [event(kind, now, **detail)]) == {}

    def told(self, alarm: str) -> int:
        """How many alerts of an alarm came to the phone; one that came twice counts once."""
        return len({a.id for a in self.phone.told if a.alarm == alarm})

    def missing(self) -> int:
        """How many readings of the pot the data file does not have, of those that were shown longer
        ago than the time after which readings are written.
        """
        now_s = self.clock.moment().mono_s
        due = {(mono_s, value) for mono_s, value in self.shown if now_s - mono_s > COMMIT_S}
        known = self.store.samples_of("box-pot", self.begun.at, self.clock.moment().at)
        there = {(s.mono_s, s.value) for s in known if isinstance(s, Reading)}
        return len(due - there)
