"""The sign of an open lid: a pot loses more heat than a closed one can. Pure, as the others are."""

import math

from noonpot.core.readings import Role
from noonpot.core.sanity_signs import LEAST_STEP_K, WINDOWS_S, Sign, SignKind
from noonpot.core.sanity_track import Track

COOLING_S = (600.0, 900.0)
"""No closed cooker loses its heat faster than by two thirds in this time [s], first if the sun may
have gone, then if a light sensor saw it stay. The quickest of our simulated ones, cookers without
glass or wall, need 1300 s.
"""
WARM_K = 15.0


def lid_open(probe: str, pot: Track, ambient_c: float, light: Track | None) -> Sign | None:
    """The pot lost more than a closed cooker loses without any sun."""
    now_s, now_c = pot.times[-1], pot.values[-1]
    if pot.at_board_s(now_s) > 0.0:  # wires that touch show their board
        return None
    for window_s in WINDOWS_S:
        before_c = pot.at(now_s - window_s)
        if before_c is None or before_c - ambient_c < WARM_K:
            continue
        cooling_s = COOLING_S[1 if _steady(light, now_s, window_s) else 0]
        least_k = (before_c - ambient_c) * (1 - math.exp(-window_s / cooling_s))
        if before_c - now_c >= max(least_k, LEAST_STEP_K):
            light_wm2 = 0.0 if light is None else (light.last or 0.0)
            return Sign(
                SignKind.LID, probe, now_s, before_c, now_c, window_s, Role.IRRADIANCE, light_wm2
            )
    return None


def _steady(light: Track | None, now_s: float, window_s: float) -> bool:
    """Whether the light stayed from well before the window on."""
    if light is None:
        return False
    values = [value for _, value in light.between(now_s - window_s - 120.0, now_s)]
    return len(values) >= 3 and min(values) >= 0.85 * max(values)


def regained(sign: Sign, pot: Track) -> bool:
    """Half of what was lost at the open lid is there again."""
    lowest_c = min(value for at_s, value in pot.between(sign.since_s - sign.seconds, 1e18))
    return pot.values[-1] >= lowest_c + (sign.from_c - lowest_c) / 2 and lowest_c < sign.from_c


FORGOTTEN_S = 900.0
"""A lid that somebody announced is closed again by then (our choice)."""
CLOSING_K = 4.0
"""A pot that is closed rises by this, even under a cloud: its walls heat the air in it."""


def closed_again(sign: Sign, pot: Track) -> bool:
    """The pot has risen since it lost its heat, be it by little."""
    lowest_c = sign.from_c
    for _, value in pot.between(sign.since_s - sign.seconds, pot.times[-1]):
        if value >= lowest_c + CLOSING_K:
            return True
        lowest_c = min(lowest_c, value)
    return False
