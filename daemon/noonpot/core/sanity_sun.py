"""The sign of a cooker that has lost the sun while it shines: knocked aside, blown over, in shade.

Slower than an open lid: no heat flies away, only none comes in. It needs a light sensor, for
without one a cloud looks the same.
"""

import math

from noonpot.core.readings import Role
from noonpot.core.sanity_signs import Sign, SignKind
from noonpot.core.sanity_track import Track

FALL_S = 1200.0
BEFORE_S = 1200.0
"""How long it must have held its heat before it fell [s]: what goes down slowly has an old aim."""
HELD_K = 1.0
LEAST_FALL_K = 8.0
WARM_K = 30.0
SLOW_S = 7200.0
"""A cooker that has lost its beam falls at least as fast as one of this time constant whose light
went: our boxes with a heavy pot have 6000 s (our choice)."""
BRIGHT_WM2 = 400.0
STEADY = 0.85
"""So much of its best in the hour did the light keep: then no cloud took it (our choice)."""


def sun_lost(probe: str, pot: Track, ambient_c: float, light: Track | None) -> Sign | None:
    """The pot held its heat, and falls under a sun that shines on."""
    now_s, now_c = pot.times[-1], pot.values[-1]
    before_c, earlier_c = pot.at(now_s - FALL_S), pot.at(now_s - FALL_S - BEFORE_S)
    if light is None or before_c is None or earlier_c is None or before_c - ambient_c < WARM_K:
        return None
    least_k = (before_c - ambient_c) * (1 - math.exp(-FALL_S / SLOW_S))
    if before_c < earlier_c - HELD_K or before_c - now_c < max(least_k, LEAST_FALL_K):
        return None
    seen = [value for _, value in light.between(now_s - FALL_S - BEFORE_S, now_s)]
    if len(seen) < 10 or min(seen) < max(BRIGHT_WM2, STEADY * max(seen)):
        return None
    return Sign(SignKind.SUNLESS, probe, now_s, before_c, now_c, FALL_S, Role.IRRADIANCE, seen[-1])


def dimmed(light: Track | None) -> bool:
    """Whether a cloud is there now, so that nobody can tell any more."""
    return light is None or light.last is None or light.last < BRIGHT_WM2 / 2
