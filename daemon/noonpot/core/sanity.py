"""Whether the probes of one cooker show what they are called. Grows reading by reading; what it
says at a moment follows from the readings and events up to then, so a restart ends nothing.
"""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace

from noonpot.core.cook import EventKind
from noonpot.core.readings import Reading, Role
from noonpot.core.sanity_lid import FORGOTTEN_S, closed_again, lid_open, regained
from noonpot.core.sanity_probes import Around, broken
from noonpot.core.sanity_signs import (
    LEAST_SHARE,
    MENDED_SHARE,
    WINDOWS_S,
    Food,
    Sign,
    SignKind,
    in_food_again,
    left_food,
    mirrored,
    never_in_food,
    swapped,
    turned_back,
)
from noonpot.core.sanity_sun import BEFORE_S, FALL_S, dimmed, sun_lost
from noonpot.core.sanity_track import Track

OPENINGS = {EventKind.LID, EventKind.SPOT, EventKind.LOAD, EventKind.UNLOAD}
"""Who does this lifts the lid, and sees where the probes are."""
HANDLINGS = OPENINGS | {EventKind.AIM, EventKind.STOP}
"""Who does this sees whether the cooker stands and is closed."""
CLOSINGS = HANDLINGS - {EventKind.LID, EventKind.SPOT}
"""Of these the ones that are not an opening themselves, or bring what chills the pot."""
TOLD_EARLY_S = 300.0
"""So long before it is done may a person say what will be done [s]."""
CHILLING_S = 1200.0
"""So long may cold food go on chilling the pot it was put in [s] (our choice)."""
WELL_S = WINDOWS_S[-1] + 60.0
"""So long after a probe was mended its leap to what is true is none towards the air [s]; one that
ends close to the pot's heat is doubted all the same.
"""
SLOWLY_S = 60.0
"""What is told by half an hour need not be looked for with every point."""
AIR_C = 25.0
"""Taken for the air where no probe tells: too warm rather than too cold, for then less is asked."""


class Sanity:
    """The signs of one cooker. ``probes`` are their roles by name; all times monotonic [s]."""

    def __init__(self, probes: Mapping[str, Role], boiling_c: float) -> None:
        self._roles = probes
        self._boiling_c = boiling_c
        self._tracks = {probe: Track() for probe in probes}
        self._happened: list[tuple[float, EventKind]] = []
        self._food: Food | None = None
        self._cores: dict[str, Sign] = {}
        self._looked_s: dict[str, float] = {}  # when a core was last looked at for slow signs
        self._lid: Sign | None = None
        self._announced: Sign | None = None  # a lid whose opening somebody told of
        self._sunless: Sign | None = None
        self._sunny_since_s: float | None = None
        self._broken: dict[str, Sign] = {}
        self._ill_s: dict[str, float] = {}  # when it was last seen to be broken

    @property
    def signs(self) -> tuple[Sign, ...]:
        """All that is wrong now, as far as one can see."""
        lost = (sign for sign in (self._lid, self._sunless) if sign is not None)
        return (*self._broken.values(), *self._cores.values(), *lost)

    @property
    def distrusted(self) -> frozenset[str]:
        """The probes that must not be gone by."""
        return frozenset(self._broken) | frozenset(self._cores)

    def hear(self, reading: Reading) -> None:
        """Take in a reading that the filter believes; look whenever it completes a point."""
        track = self._tracks[reading.probe]
        if not track.add(reading.mono_s, reading.value, reading.board_c) or not track.times:
            return
        role = self._roles[reading.probe]
        if role is Role.CORE:
            self._look_at_core(reading.probe, track)
        elif role is Role.POT and track is self._first(Role.POT):
            self._look_at_lid(reading.probe, track)
            self._look_at_sun(reading.probe, track)

    def happen(self, kind: EventKind, at_s: float, food: Food | None) -> None:
        """A person did something; ``food`` is what is in the pot then."""
        self._food = food
        if kind in HANDLINGS:
            self._happened = [*self._happened[-49:], (at_s, kind)]

    def look(
        self, now_s: float, *, sunny: bool, dark: bool | None, clear_wm2: float | None
    ) -> None:
        """Look at each probe by itself, and drop what a person has seen to. ``sunny``: the cooker
        faces a sun that is well up; ``clear_wm2`` what a clear sky would give on level ground.
        """
        if not sunny:
            self._sunny_since_s = None
        elif self._sunny_since_s is None:
            self._sunny_since_s = now_s
        sunny_s = 0.0 if self._sunny_since_s is None else now_s - self._sunny_since_s
        around = Around(
            self._first(Role.POT),
            self._first(Role.CORE),
            self._first(Role.AMBIENT),
            self._first(Role.IRRADIANCE),
            self._food,
            self._boiling_c,
            sunny_s,
            dark,
            clear_wm2,
            self._opened_s(now_s),
        )
        seen = (
            broken(probe, self._roles[probe], track, now_s, around, self._broken.get(probe))
            for probe, track in self._tracks.items()
        )
        self._broken = {sign.probe: sign for sign in seen if sign is not None}
        self._ill_s |= dict.fromkeys(self._broken, now_s)
        self._settle(now_s)

    def _first(self, role: Role) -> Track | None:
        """The first probe of a role that has shown anything and is not broken."""
        sound = (p for p, r in self._roles.items() if r is role and p not in self._broken)
        return next((self._tracks[p] for p in sound if self._tracks[p].times), None)

    def _settle(self, now_s: float) -> None:
        """Drop the signs that a person has answered by being there, or taken out with the food, and
        those that a broken probe explains.
        """
        blind = self._first(Role.POT) is None
        self._cores = {
            probe: sign
            for probe, sign in self._cores.items()
            if not (
                self._food is None
                or (blind and sign.kind is not SignKind.OUT)  # it was the pot's probe, maybe
                or probe in self._broken
                or self._done(OPENINGS, sign.since_s, now_s)
            )
        }
        lid = self._lid
        if lid and (lid.probe in self._broken or self._done(HANDLINGS, lid.since_s, now_s)):
            self._lid = None
        sunless = self._sunless
        if sunless and (
            sunless.probe in self._broken or self._done(HANDLINGS, sunless.since_s, now_s)
        ):
            self._sunless = None
        lid = self._announced
        if lid and (lid.probe in self._broken or self._done(CLOSINGS, lid.since_s, now_s)):
            self._announced = None

    def _done(self, kinds: AbstractSet[EventKind], since_s: float, now_s: float) -> bool:
        return any(kind in kinds and since_s < at_s <= now_s for at_s, kind in self._happened)

    def _opened_s(self, now_s: float) -> float:
        """When somebody last saw to the probes [monotonic s]."""
        opened = (s for s, kind in self._happened if kind in OPENINGS and s <= now_s)
        return max(opened, default=float("-inf"))

    def _look_at_core(self, probe: str, core: Track) -> None:
        now_s, food, pot = core.times[-1], self._food, self._first(Role.POT)
        self._settle(now_s)
        if food is None or now_s < food.at_s or probe in self._broken:
            return
        ambient = self._first(Role.AMBIENT)
        known = self._cores.get(probe)
        if known is not None:
            if _core_is_well(known, core, pot, ambient):
                del self._cores[probe]
            return
        since = replace(food, at_s=max(food.at_s, self._opened_s(now_s)))
        beside = Track() if pot is None else pot
        ill = now_s - self._ill_s.get(probe, float("-inf")) <= WELL_S
        share = MENDED_SHARE if ill else LEAST_SHARE
        slowly = now_s - self._looked_s.get(probe, float("-inf")) >= SLOWLY_S
        sign = swapped(probe, core, beside, food) if slowly else None
        sign = sign or left_food(probe, core, beside, Role.POT, since, self._boiling_c, share)
        if sign is None and ambient is not None and not ill:
            sign = left_food(probe, core, ambient, Role.AMBIENT, since, self._boiling_c)
        if slowly:
            self._looked_s[probe] = now_s
            sign = sign or never_in_food(
                probe, core, beside, ambient, food, since.at_s, self._boiling_c
            )
        if sign is None:
            return
        backwards = mirrored(core, sign) if sign.kind is SignKind.OUT else False
        if backwards is None:
            return
        if backwards:
            board_c = sign.beside_c if core.board_c is None else core.board_c
            sign = replace(sign, kind=SignKind.REVERSED, beside=Role.AMBIENT, beside_c=board_c)
        self._cores[probe] = sign

    def _look_at_lid(self, probe: str, pot: Track) -> None:
        now_s = pot.times[-1]
        self._settle(now_s)
        if self._lid is not None:
            if regained(self._lid, pot):
                self._lid = None
            else:
                self._lid = replace(self._lid, to_c=min(self._lid.to_c, pot.values[-1]))
            return
        if self._announced is not None:
            self._lid = self._forgotten(self._announced, pot)
            return
        sign = lid_open(probe, pot, self._air_c(), self._first(Role.IRRADIANCE))
        if sign is None:
            return
        begun_s = now_s - sign.seconds
        told = self._done(OPENINGS, begun_s - TOLD_EARLY_S, now_s)
        chilled = self._done({EventKind.LOAD}, begun_s - CHILLING_S, now_s)
        if chilled:
            return
        if not told:
            self._lid = sign
        elif self._food is not None:
            self._announced = sign

    def _look_at_sun(self, probe: str, pot: Track) -> None:
        now_s, light = pot.times[-1], self._first(Role.IRRADIANCE)
        if self._sunless is not None:
            if dimmed(light) or closed_again(self._sunless, pot):
                self._sunless = None
            return
        if self._lid is None and not self._done(HANDLINGS, now_s - FALL_S - BEFORE_S, now_s):
            self._sunless = sun_lost(probe, pot, self._air_c(), light)

    def _air_c(self) -> float:
        ambient = self._first(Role.AMBIENT)
        return AIR_C if ambient is None or ambient.last is None else ambient.last

    def _forgotten(self, lid: Sign, pot: Track) -> Sign | None:
        """An announced lid that was never closed again, as far as one can see."""
        now_s = pot.times[-1]
        if closed_again(lid, pot):
            self._announced = None
            return None
        if now_s - max(lid.since_s, self._opened_s(now_s)) < FORGOTTEN_S:
            return None
        self._announced = None
        return replace(lid, to_c=pot.values[-1])


def _core_is_well(known: Sign, core: Track, pot: Track | None, ambient: Track | None) -> bool:
    """Whether a core that was misplaced shows the food again. On its way from cold food into the
    pot a probe passes the temperature of the air, so what went there must keep apart from both.
    """
    if known.kind is SignKind.REVERSED:
        return turned_back(core)
    if known.kind is SignKind.SWAPPED:
        beside_c = None if pot is None else pot.at(core.times[-1])
        return beside_c is not None and beside_c > core.values[-1]
    around = (pot, ambient) if known.beside is Role.AMBIENT else (pot,)
    tracks = [track for track in around if track is not None]
    return in_food_again(known, core, tracks if len(tracks) == len(around) else ())
