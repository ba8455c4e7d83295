"""Signs that the readings of a cooker cannot all be what they are called. Pure: tracks in, a sign
or None out; every sign carries the numbers that it is seen by.

The numbers are our choice unless another source is named. They were set so that no cook of two
simulated gardens, with clouds, lids and turns, shows a sign.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from noonpot.core.readings import Role
from noonpot.core.sanity_track import Track, gaps


class SignKind(StrEnum):
    """What is wrong with what a probe is taken to show."""

    OUT = "out"
    NEVER_IN = "never-in"
    SWAPPED = "swapped"
    LID = "lid"
    SUNLESS = "sunless"
    STUCK = "stuck"
    SHORTED = "shorted"
    REVERSED = "reversed"


@dataclass(frozen=True, slots=True)
class Sign:
    """What was seen of a probe since ``since_s`` [monotonic s]: it went from ``from_c`` to ``to_c``
    within ``seconds``, while ``beside`` showed ``beside_c`` [°C, or W/m² for irradiance].
    """

    kind: SignKind
    probe: str
    since_s: float
    from_c: float
    to_c: float
    seconds: float
    beside: Role
    beside_c: float


@dataclass(frozen=True, slots=True)
class Food:
    """What is in the pot since ``at_s`` [monotonic s], as far as it is known."""

    at_s: float
    mass_kg: float | None = None
    start_c: float | None = None

    @property
    def settled_s(self) -> float:
        """From here on a probe put into this food shows its temperature [monotonic s]."""
        return self.at_s + SETTLING_S

    @property
    def fastest_s(self) -> float:
        """No food of this mass comes closer to its pot by two thirds in a shorter time [s]: half of
        what one kilogram of stew needs (20 minutes and more, common practice, no source), by the
        cube root of the mass.
        """
        return 600.0 * math.cbrt(0.3 if self.mass_kg is None else self.mass_kg)


SETTLING_S = 600.0
WINDOWS_S = (60.0, 120.0, 300.0)
TREND_S = 600.0
LEAST_STEP_K = 6.0
DRY_STEP_K, DRY_WINDOW_S = 15.0, 120.0
"""Food that has boiled dry leaves the boiling point by some kelvins in a minute: only more in less
time is a bare probe."""
LEAST_SHARE, MENDED_SHARE = 0.5, 0.8
"""Stirring brings the middle a part of the way to the pot, and a probe that was mended leaps to
where its food is; a bare probe goes nearly all of it.
"""


def left_food(
    probe: str,
    core: Track,
    around: Track,
    beside: Role,
    food: Food,
    boiling_c: float,
    least_share: float = LEAST_SHARE,
) -> Sign | None:
    """The core went most of the way to what is around it, faster than food can."""
    now_s, now_c = core.times[-1], core.values[-1]
    goal_c = around.at(now_s)
    if core.at_board_s(now_s) > 0.0:  # wires that touch show their board
        return None
    if goal_c is None:
        return _leapt(probe, core, food) if beside is Role.POT else None
    for window_s in WINDOWS_S:
        begin_s = now_s - window_s
        before_c = core.at(begin_s) if begin_s >= food.settled_s else None
        if before_c is None:
            continue
        trend = core.slope(max(begin_s - TREND_S, food.settled_s), begin_s)
        step_k, gap_k = now_c - before_c, goal_c - before_c
        beyond_k = step_k - trend * window_s
        if abs(gap_k) < LEAST_STEP_K or begin_s - food.settled_s < TREND_S / 2:
            continue
        share = min(step_k / gap_k, beyond_k / gap_k)
        dry = before_c >= boiling_c - 2.0
        if dry and window_s > DRY_WINDOW_S:
            continue
        least_k = DRY_STEP_K if dry else LEAST_STEP_K
        least = least_share + (1 - least_share) * (1 - math.exp(-window_s / food.fastest_s))
        if min(abs(step_k), abs(beyond_k)) >= least_k and least <= share <= 1.5:
            return Sign(SignKind.OUT, probe, now_s, before_c, now_c, window_s, beside, goal_c)
    return None


BLIND_STEP_K, BLIND_WINDOW_S = 15.0, 120.0
"""Where nobody knows how hot the pot is, so much in so short a time is taken for a bare probe."""


def _leapt(probe: str, core: Track, food: Food) -> Sign | None:
    """The core rose as no food does, while the pot's probe tells nothing."""
    now_s, now_c = core.times[-1], core.values[-1]
    begin_s = now_s - BLIND_WINDOW_S
    before_c = core.at(begin_s) if begin_s >= food.settled_s else None
    if before_c is None or now_c - before_c < BLIND_STEP_K:
        return None
    return Sign(SignKind.OUT, probe, now_s, before_c, now_c, BLIND_WINDOW_S, Role.CORE, now_c)


APART_K = 6.0
APART_S = 600.0


def in_food_again(sign: Sign, core: Track, around: Sequence[Track]) -> bool:
    """The core is back where it was, or keeps apart from all that is around it: a bare probe would
    have joined that within minutes.
    """
    now_s, now_c = core.times[-1], core.values[-1]
    minute = [value for _, value in core.between(now_s - 60.0, now_s)]
    if sign.kind is SignKind.OUT and now_s - sign.since_s >= 60.0:
        near_k = max(3.0, abs(sign.to_c - sign.from_c) / 4)
        if all(abs(value - sign.from_c) <= near_k for value in minute) and near_k < abs(
            now_c - sign.to_c
        ):
            return True
    since_s = max(sign.since_s, now_s - APART_S)
    apart = [gaps(core, track, since_s, now_s) for track in around]
    return (
        now_s - sign.since_s >= APART_S
        and bool(apart)
        and all(apart)
        and all(abs(gap_k) >= APART_K for seen in apart for _, _, gap_k in seen)
    )


LIKE_METAL_S = 120.0
"""A probe in a steel sleeve follows the air around it within this [s] (common practice)."""
ALIKE_K = 2.5
HOT_C = 60.0
LEAST_KG = 0.4
OUTSIDE_S = 75 * 60.0
RESTS_S, RESTS_K = 1200.0, 1.0


def never_in_food(
    probe: str,
    core: Track,
    pot: Track,
    ambient: Track | None,
    food: Food,
    since_s: float,
    boiling_c: float,
) -> Sign | None:
    """Since loading, or since somebody last saw to it, the core has shown the pot, or the air
    outside, as only bare metal can.
    """
    now_s, now_c = core.times[-1], core.values[-1]
    seen = gaps(core, pot, max(since_s + SETTLING_S, now_s - 2400.0), now_s)
    if len(seen) < 5 or now_s - food.at_s < 900.0 or seen[-1][0] - seen[0][0] < 300.0:
        return None
    (first_s, first_c, _), (last_s, _, gap_k) = seen[0], seen[-1]
    rise_k, mean_k = now_c - first_c, sum(gap for _, _, gap in seen) / len(seen)
    lag_s = sum(abs(gap) for _, _, gap in seen) / len(seen) * (last_s - first_s) / _way(seen)
    alike = max(abs(gap) for _, _, gap in seen[-30:]) <= ALIKE_K and abs(mean_k) <= ALIKE_K
    follows = (
        first_c < boiling_c - 2.0  # beyond, it may be food that has boiled dry
        and rise_k >= 15.0
        and lag_s <= LIKE_METAL_S
    )
    heavy = food.mass_kg is None or food.mass_kg >= LEAST_KG
    cold = food.start_c is None or food.start_c < HOT_C - 20.0
    soon = first_s - food.settled_s < 60.0 and now_s - food.at_s < 1500.0
    at_once = heavy and cold and soon and min(value for _, value, _ in seen) >= HOT_C
    if alike and (follows or at_once):
        return Sign(
            SignKind.NEVER_IN, probe, now_s, first_c, now_c, now_s - food.at_s, Role.POT,
            now_c + gap_k,
        )  # fmt: skip
    return None if ambient is None else _left_outside(probe, core, pot, ambient, food)


def _way(seen: Sequence[tuple[float, float, float]]) -> float:
    """How far the first value went up and down in all, from minute to minute; not less than 1."""
    minutes = [value for _, value, _ in seen][::6]
    return max(sum(abs(b - a) for a, b in pairwise(minutes)), 1.0)


def _left_outside(probe: str, core: Track, pot: Track, ambient: Track, food: Food) -> Sign | None:
    now_s, now_c = core.times[-1], core.values[-1]
    mass = max(food.mass_kg or 1.0, 1.0)
    if core.at_board_s(now_s) > 0.0:
        return None
    awake = now_s - food.at_s >= OUTSIDE_S * mass ** (2 / 3)
    window_s = 2400.0 if awake else RESTS_S
    if not awake and not rests(core, food, now_s, now_s - RESTS_S):
        return None
    outside = gaps(core, ambient, now_s - window_s, now_s)
    hot = gaps(core, pot, now_s - window_s, now_s)
    if len(outside) < 5 or not hot:
        return None
    if max(abs(gap) for _, _, gap in outside) > 2.0 or min(gap for _, _, gap in hot) < 30.0:
        return None
    return Sign(
        SignKind.NEVER_IN, probe, now_s, outside[0][1], now_c, now_s - food.at_s, Role.AMBIENT,
        now_c + outside[-1][2],
    )  # fmt: skip


def rests(core: Track, food: Food, now_s: float, since_s: float) -> bool:
    """Whether it has stood still since then, far from where the food began. Food that has come so
    far goes on.
    """
    if food.start_c is None or since_s < food.settled_s or not core.values:
        return False
    far = abs(core.values[-1] - food.start_c) >= LEAST_STEP_K
    return far and core.moved(since_s, now_s) <= RESTS_K


MIRROR_K, MIRROR_S = 2.0, 40.0


def mirrored(core: Track, sign: Sign) -> bool | None:
    """Whether a leap only turned the difference to the converter board around, as reversed wires
    do; None while that is too early to say.
    """
    board_c, now_s = core.board_c, core.times[-1]
    if board_c is None or abs(sign.from_c + core.values[-1] - 2 * board_c) > MIRROR_K:
        return False
    before_c = core.at(now_s - MIRROR_S)
    if before_c is None or abs(before_c - core.values[-1]) > MIRROR_K / 2:
        return None if abs((before_c or sign.from_c) - sign.from_c) <= MIRROR_K else False
    return True


def turned_back(core: Track) -> bool:
    """Whether reversed wires were put right: the same leap again."""
    now_s, now_c, board_c = core.times[-1], core.values[-1], core.board_c
    before_c = core.at(now_s - WINDOWS_S[0])
    if board_c is None or before_c is None or abs(now_c - before_c) < LEAST_STEP_K:
        return False
    return abs(before_c + now_c - 2 * board_c) <= MIRROR_K


LED_S, LED_K = 1500.0, 3.0
"""A pot that was opened, or is lit again, is colder than its food for some minutes only, for it
rises fast (our choice).
"""


def swapped(probe: str, core: Track, pot: Track, food: Food) -> Sign | None:
    """What is called core leads: since loading it has been the hotter one, and heats up; or loading
    chilled what is called pot and left the core hot; or what is called pot is as cold as the food.
    """
    now_s, now_c = core.times[-1], core.values[-1]
    seen = gaps(core, pot, max(food.at_s + 300.0, now_s - 1800.0), now_s)
    if len(seen) < 5 or now_s - food.at_s < 900.0:
        return None
    lead_k = min(-gap for _, _, gap in seen)
    (first_s, first_c, first_gap_k), (last_s, last_c, last_gap_k) = seen[0], seen[-1]
    rise_k = now_c - first_c
    rises = rise_k >= 10.0 and lead_k >= 8.0 and now_s - food.at_s < 5400.0
    # A pot that warms up is soon hotter than its food, however late in the cook.
    pot_rise_k = last_c + last_gap_k - first_c - first_gap_k
    rises = rises or (
        last_s - first_s >= LED_S and min(rise_k, pot_rise_k) >= LED_K and lead_k >= LEAST_STEP_K
    )
    before_c, start_c = pot.at(food.at_s - 30.0), food.start_c
    hot_c = max(now_c, core.at(food.at_s + 300.0) or now_c)  # under a cloud it cools, too
    chilled = (
        before_c is not None
        and lead_k >= 20.0
        and before_c - max(value + gap for _, value, gap in seen) >= 25.0
        and (start_c is None or start_c < now_c - 20.0)
        and (hot_c >= before_c - 25.0 or (start_c is not None and start_c < now_c - 40.0))
    )
    cold = (
        before_c is not None
        and start_c is not None
        and before_c >= start_c + 25.0
        and lead_k >= 12.0
        and now_s - food.at_s < 2400.0
        and max(value + gap for _, value, gap in seen) <= start_c + 12.0
    )
    if not (rises or chilled or cold):
        return None
    return Sign(
        SignKind.SWAPPED, probe, now_s, seen[0][1], now_c, now_s - food.at_s, Role.POT,
        now_c + seen[-1][2],
    )  # fmt: skip
