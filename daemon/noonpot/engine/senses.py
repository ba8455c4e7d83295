"""What the probes of one cooker show now."""

from collections.abc import Iterable, Mapping
from datetime import timedelta

from noonpot.core.cook import Event, EventKind
from noonpot.core.facts import Facts
from noonpot.core.moment import Moment
from noonpot.core.readings import Fault, FaultKind, Reading, Role
from noonpot.core.sanity import Sanity
from noonpot.core.sanity_signs import Food, Sign, SignKind
from noonpot.core.station import ProbeSpec

LOOK_S = 10.0
BRIGHT_WM2, DARK_WM2 = 300.0, 20.0
"""Under a clear sky that gives so much, a cooker that faces the sun warms up whatever the clouds;
so little is night (our choice)."""
FAULTS = {
    SignKind.STUCK: FaultKind.STUCK,
    SignKind.SHORTED: FaultKind.SHORTED,
    SignKind.REVERSED: FaultKind.REVERSED,
}


class Senses:
    """The last trustworthy readings of one cooker, by role and probe; old ones count no more, nor
    those of a probe that shows a sign of not being what it is called.

    ``heard`` is when pot or core were last heard of.
    """

    def __init__(
        self, probes: Iterable[ProbeSpec], fresh_s: float, now: Moment, boiling_c: float
    ) -> None:
        self.probes: Mapping[str, Role] = {probe.name: probe.role for probe in probes}
        self.heard = now
        self._fresh_s = fresh_s
        self._sanity = Sanity(self.probes, boiling_c)
        self._food: Food | None = None
        self._looked_s = float("-inf")
        self._latest: dict[Role, dict[str, tuple[float, float]]] = {role: {} for role in Role}

    def hear(self, reading: Reading) -> Role:
        """Take in a reading of one of the probes; returns what it measures."""
        role = self.probes[reading.probe]
        self._latest[role][reading.probe] = (reading.mono_s, reading.value)
        self._sanity.hear(reading)
        if role in (Role.POT, Role.CORE):
            self.heard = Moment(reading.at, reading.mono_s)
        return role

    def known(self, role: Role, now_s: float) -> float | None:
        """What is known of a role, None when all is too old. Of several core probes the coldest
        decides, of several light sensors the brightest: what shades one does not shade the sky.
        """
        values = [
            value
            for probe, (at_s, value) in self._latest[role].items()
            if now_s - at_s <= self._fresh_s and probe not in self._sanity.distrusted
        ]
        return (max if role is Role.IRRADIANCE else min)(values, default=None)

    @property
    def signs(self) -> tuple[Sign, ...]:
        """What seems wrong with what the probes are taken to show."""
        return self._sanity.signs

    def faults(self, now: Moment, known: tuple[Fault, ...]) -> tuple[Fault, ...]:
        """The known faults, and the other probes that seem broken by what stands beside them."""
        named = {fault.probe for fault in known}
        seen = (
            Fault(
                sign.probe,
                now.at - timedelta(seconds=now.mono_s - sign.since_s),
                sign.since_s,
                FAULTS[sign.kind],
            )
            for sign in self.signs
            if sign.kind in FAULTS and sign.probe not in named
        )
        return (*known, *seen)

    def happen(self, event: Event, zero_s: float) -> None:
        """A person did something; ``zero_s`` is the Unix time [s] at which the monotonic clock
        would have shown 0.
        """
        at_s = event.at.timestamp() - zero_s
        if event.kind is EventKind.LOAD:
            self._food = Food(at_s, event.number("mass_kg"), event.number("start_c"))
        elif event.kind in (EventKind.UNLOAD, EventKind.STOP):
            self._food = None
        self._sanity.happen(event.kind, at_s, self._food)

    def due(self, now: Moment) -> bool:
        """Whether it is time to look at the probes one by one."""
        return now.mono_s - self._looked_s >= LOOK_S

    def look(self, now: Moment, facts: Facts) -> None:
        """Look at the probes one by one, knowing where the sun stands."""
        self._looked_s = now.mono_s
        sun, misaim_deg = facts.sun, facts.misaim_deg
        self._sanity.look(
            now.mono_s,
            sunny=sun is not None
            and facts.sun_up
            and sun.ghi >= BRIGHT_WM2
            and misaim_deg is not None
            and misaim_deg <= facts.cooker.acceptance_deg,
            dark=None if sun is None else sun.ghi <= DARK_WM2,
            clear_wm2=None if sun is None or not facts.sun_up else sun.ghi,
        )
