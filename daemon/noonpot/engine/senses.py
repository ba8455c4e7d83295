"""What the probes of one cooker show now."""

from collections.abc import Iterable, Mapping

from noonpot.core.moment import Moment
from noonpot.core.readings import Reading, Role
from noonpot.core.station import ProbeSpec


class Senses:
    """The last trustworthy readings of one cooker, by role and probe; old ones count no more.

    ``heard`` is when pot or core were last heard of.
    """

    def __init__(self, probes: Iterable[ProbeSpec], fresh_s: float, now: Moment) -> None:
        self.probes: Mapping[str, Role] = {probe.name: probe.role for probe in probes}
        self.heard = now
        self._fresh_s = fresh_s
        self._latest: dict[Role, dict[str, tuple[float, float]]] = {role: {} for role in Role}

    def hear(self, reading: Reading) -> Role:
        """Take in a reading of one of the probes; returns what it measures."""
        role = self.probes[reading.probe]
        self._latest[role][reading.probe] = (reading.mono_s, reading.value)
        if role in (Role.POT, Role.CORE):
            self.heard = Moment(reading.at, reading.mono_s)
        return role

    def known(self, role: Role, now_s: float) -> float | None:
        """What is known of a role, None when all is too old. Of several core probes the coldest
        decides, of several light sensors the brightest: what shades one does not shade the sky.
        """
        latest = self._latest[role].values()
        values = [value for at_s, value in latest if now_s - at_s <= self._fresh_s]
        return (max if role is Role.IRRADIANCE else min)(values, default=None)
