"""A kitchen with ice and boiling water, and probes in it that show a little too much."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from fakes import FakeClock
from noonpot.core.readings import Reading

ROOM_C = 22.0


@dataclass
class WrongProbe:
    """A probe that shows ``gain`` times what is, plus ``off_k``, with a lag and noise [K]."""

    gain: float = 1.0
    off_k: float = 0.0
    noise_k: float = 0.04
    lag_s: float = 12.0
    tip_c: float = ROOM_C

    def live(self, bath_c: float, seconds: float) -> None:
        """Stay in a bath for a while; an exact step of the first-order lag is not needed here."""
        share = min(1.0, seconds / self.lag_s)
        self.tip_c += share * (bath_c - self.tip_c)

    def shown(self, chance: random.Random) -> float:
        return self.gain * self.tip_c + self.off_k + chance.gauss(0, self.noise_k)


@dataclass(frozen=True)
class Stay:
    """A bath from a time on [s]."""

    from_s: float
    bath_c: float


def bath_at(stays: Sequence[Stay], now_s: float) -> float:
    return [ROOM_C, *(stay.bath_c for stay in stays if stay.from_s <= now_s)][-1]


def readings_in(
    probe: WrongProbe, bath_c: float, seconds: float, chance: random.Random, *, every_s: float = 2.0
) -> list[Reading]:
    """What the probe says in a bath, in steps of 1/16 K as the store keeps them."""
    clock, heard = FakeClock(), []
    for _ in range(int(seconds / every_s)):
        now = clock.advance(every_s)
        probe.live(bath_c, every_s)
        value = round(probe.shown(chance) * 16) / 16
        heard.append(Reading("loaf", now.at, now.mono_s, value))
    return heard
