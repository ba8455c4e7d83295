"""What all stations of a broker said last, within bounds: a broker that is flooded fills nobody's
memory here.
"""

import threading
from collections import Counter
from collections.abc import Mapping

from noonpot.core.sighting import Address, Chance, Part, Presence, Pulse, Sighting, Stand, Standing
from noonpot.core.sighting import address as address_of
from noonpot.core.sightreading import sighting
from noonpot.core.stationline import CookerSeen, Heard, Line, StationSeen, lines
from noonpot.core.strictjson import parsed
from noonpot.ports import Clock

MOST_BYTES = 65_536  # a forecast has 6 000
MOST_COOKERS = 40_000  # of all stations together, each station counting as one more
MOST_ALARMS = 40  # of one cooker; Noonpot has 16


class Board:
    """Hears messages in one thread, shows lines in others.

    ``counts`` are ``heard``, and of those ``shown``, ``cleared`` (the broker was told to forget
    it), ``malformed``, ``oversized``, ``strange`` (a topic that no station has) and ``crowded``:
    a station or cooker that came when the board was full. Who is there already stays.
    """

    def __init__(self, clock: Clock, most: int = MOST_COOKERS) -> None:
        self._clock = clock
        self._most = most
        self._lock = threading.Lock()
        self._seen: dict[str, StationSeen] = {}
        self._held = 0
        self._counts: Counter[str] = Counter()

    @property
    def counts(self) -> Mapping[str, int]:
        """How many messages came, and what became of them."""
        with self._lock:
            return dict(self._counts)

    @property
    def stations(self) -> int:
        """How many stations are known."""
        return len(self._seen)

    def hear(self, topic: str, body: bytes, stored: bool) -> None:  # noqa: FBT001
        """Take a message; ``stored`` when the broker had it. What is none of a station's is counted
        and left.
        """
        with self._lock:
            self._counts["heard"] += 1
            self._counts[self._taken(topic, body, stored=stored)] += 1

    def lines(self, *, connected: bool) -> list[Line]:
        """All lines, the worst first."""
        with self._lock:
            return lines(self._seen, self._clock.moment(), connected=connected)

    def _taken(self, topic: str, body: bytes, *, stored: bool) -> str:
        """What became of a message. Holds the lock."""
        try:
            where = address_of(topic)
        except ValueError:
            return "strange"
        if not body:
            self._forget(where)
            return "cleared"
        if len(body) > MOST_BYTES:
            return "oversized"
        try:
            said = sighting(where, parsed(body))
        except ValueError:
            return "malformed"
        return "shown" if self._keep(where, said, stored=stored) else "crowded"

    def _keep(self, where: Address, said: Sighting, *, stored: bool) -> bool:
        moment = None if stored else self._clock.moment()
        station = self._seen.get(where.station)
        if station is None:
            if self._held >= self._most:
                return False
            station = self._seen[where.station] = StationSeen()
            self._held += 1
        match said:
            case Presence():
                station.presence = Heard(said, moment)
                return True
            case Pulse():
                station.pulse = Heard(said, moment)
                return True
        cooker = station.cookers.get(where.cooker)
        if cooker is None:
            if self._held >= self._most:
                return False
            cooker = station.cookers[where.cooker] = CookerSeen()
            self._held += 1
        match said:
            case Stand():
                cooker.stand = Heard(said, moment)
            case Chance():
                cooker.chance = Heard(said, moment)
            case Standing():
                return self._keep_alarm(cooker, where.alarm, Heard(said, moment))
        return True

    @staticmethod
    def _keep_alarm(cooker: CookerSeen, name: str, heard: Heard[Standing]) -> bool:
        if not heard.said.waits and not heard.said.known:
            cooker.alarms.pop(name, None)
            return True
        if len(cooker.alarms) >= MOST_ALARMS and name not in cooker.alarms:
            return False
        cooker.alarms[name] = heard
        return True

    def _forget(self, where: Address) -> None:
        """The broker was told to forget it. A station of which nothing is left is gone."""
        station = self._seen.get(where.station)
        if station is None:
            return
        cooker = station.cookers.get(where.cooker)
        match where.part:
            case Part.STATUS:
                station.presence = None
            case Part.HEALTH:
                station.pulse = None
            case Part.NOW if cooker is not None:
                cooker.stand = None
            case Part.FORECAST if cooker is not None:
                cooker.chance = None
            case Part.ALARM if cooker is not None:
                cooker.alarms.pop(where.alarm, None)
        if cooker is not None and not (cooker.stand or cooker.chance or cooker.alarms):
            del station.cookers[where.cooker]
            self._held -= 1
        if not (station.presence or station.pulse or station.cookers):
            del self._seen[where.station]
            self._held -= 1
