"""Signs that one probe is broken, seen by what stands beside it: stuck, shorted, reversed."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from noonpot.core.readings import Role
from noonpot.core.sanity_signs import RESTS_S, SETTLING_S, Food, Sign, SignKind, rests
from noonpot.core.sanity_track import Track

STILL_S = 600.0
"""So long may any probe repeat itself to the last bit; beyond, only what must move is asked."""
SUNNY_STILL_S = 1800.0
AMBIENT_STILL_S = 3 * 3600.0
LIGHT_STILL_S = 45 * 60.0
CORE_WAKES_S = 45 * 60.0
"""The middle of a dense kilogram begins to warm after this [s]: conduction in a ball of 15 cm, by
the square of its radius."""
PLATEAU_K = 10.0
"""So far below boiling the last slow kelvins begin, in which a core may stand still."""
AT_BOARD_S = 900.0
SUNNY_AT_BOARD_S = 45 * 60.0
COLDER_K, FALL_K, FALL_S = 5.0, 3.0, 600.0
STEP_K = 5.0


@dataclass(frozen=True, slots=True)
class Around:
    """What surrounds the probe that is judged: the other tracks of its cooker, None where there is
    none; the boiling point [°C]; and for how long the sun has certainly heated the cooker [s].
    ``dark`` is None where nobody knows whether the sun is up. ``opened_s``: when somebody last saw
    to the probes [monotonic s].
    """

    pot: Track | None
    core: Track | None
    ambient: Track | None
    light: Track | None
    food: Food | None
    boiling_c: float
    sunny_s: float = 0.0
    dark: bool | None = None
    clear_wm2: float | None = None
    opened_s: float = float("-inf")

    def air_c(self, track: Track) -> float | None:
        """The coldest that is known of the air: in the shade, or at the converter board [°C]."""
        shade_c = self.ambient.last if self.ambient else None
        return min((c for c in (shade_c, track.board_c) if c is not None), default=None)


def broken(
    probe: str, role: Role, track: Track, now_s: float, around: Around, known: Sign | None = None
) -> Sign | None:
    """What is wrong with this probe, None as far as one can see. ``known`` is what was seen of it
    before: wires that were reversed stay so while it is colder than the air.
    """
    if track.last is None:
        return None
    if known is not None and known.kind is SignKind.REVERSED:
        air_c = around.air_c(track)
        if air_c is None or track.last < air_c - COLDER_K / 2:
            return known
    if role in (Role.POT, Role.CORE):
        stuck = _stuck_pot if role is Role.POT else _stuck_core
        return (
            _reversed(probe, role, track, now_s, around)
            or _shorted(probe, role, track, now_s, around)
            or stuck(probe, track, now_s, around)
        )
    still_s = track.still_s(now_s)
    if role is Role.AMBIENT:
        still = still_s >= AMBIENT_STILL_S and around.dark is False
    else:
        clear = around.clear_wm2 or 0.0
        still = (still_s >= LIGHT_STILL_S and clear >= 100.0) or (
            still_s >= STILL_S and track.last <= 0.0 and clear >= 200.0
        )
    return _still(probe, track, now_s, role, track.last) if still else None


def _still(probe: str, track: Track, now_s: float, beside: Role, beside_c: float) -> Sign:
    value, seconds = track.last or 0.0, track.still_s(now_s)
    return Sign(SignKind.STUCK, probe, now_s - seconds, value, value, seconds, beside, beside_c)


def _stuck_pot(probe: str, pot: Track, now_s: float, around: Around) -> Sign | None:
    still_s, value = pot.still_s(now_s), pot.last or 0.0
    if still_s < STILL_S or abs(value - around.boiling_c) < 2.0:
        return None
    since_s = now_s - still_s
    core, food, light = around.core, around.food, around.light
    air_c = around.air_c(pot)
    if core is not None and food is not None:
        from_s = max(since_s, food.settled_s)
        if core.moved(from_s, now_s) >= 4.0:
            return _still(probe, pot, now_s, Role.CORE, core.moved(from_s, now_s))
    warm = air_c is not None and value >= air_c + 15.0
    if light is not None and warm and still_s >= 900.0 and light.moved(since_s, now_s) >= 250.0:
        return _still(probe, pot, now_s, Role.IRRADIANCE, light.moved(since_s, now_s))
    if (warm and around.dark) or min(still_s, around.sunny_s) >= SUNNY_STILL_S:
        return _still(probe, pot, now_s, Role.POT, value)
    return None


def _stuck_core(probe: str, core: Track, now_s: float, around: Around) -> Sign | None:
    food, pot, value = around.food, around.pot, core.last or 0.0
    if food is None or pot is None or core.still_s(now_s) < 2 * STILL_S:
        return None
    wakes_s = CORE_WAKES_S * max(food.mass_kg or 1.0, 0.5) ** (2 / 3)
    if now_s - food.settled_s < wakes_s or value > around.boiling_c - PLATEAU_K:
        return None
    gaps = [pot_c - value for _, pot_c in pot.between(now_s - 2400.0, now_s)]
    if len(gaps) < 5 or not (min(gaps) >= 15.0 or max(gaps) <= -15.0):
        return None
    return _still(probe, core, now_s, Role.POT, value + gaps[-1])


def _shorted(probe: str, role: Role, track: Track, now_s: float, around: Around) -> Sign | None:
    """It shows its board's temperature while the pot must be hotter."""
    at_board_s, value, food = track.at_board_s(now_s), track.last or 0.0, around.food
    other = around.core if role is Role.POT else around.pot
    hotter = other is not None and other.last is not None and other.last >= value + 20.0
    wait_s = AT_BOARD_S
    if role is Role.CORE:
        wait_s = _core_at_board_s(track, now_s - at_board_s, now_s, food or Food(now_s))
        hotter = hotter and food is not None and now_s - food.at_s >= wait_s
    elif not hotter:
        hotter, wait_s = around.sunny_s >= SUNNY_AT_BOARD_S, SUNNY_AT_BOARD_S
    if not hotter or at_board_s < wait_s:
        return None
    beside = Role.CORE if role is Role.POT else Role.POT
    beside_c = other.last if other is not None and other.last is not None else value
    board_c = track.board_c if track.board_c is not None else value
    return Sign(
        SignKind.SHORTED, probe, now_s - at_board_s, board_c, value, at_board_s, beside, beside_c
    )


def _without_leap(points: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    """The points since the last leap: whoever puts wires right makes one, and nothing falls so."""
    leaps = [i for i, (a, b) in enumerate(pairwise(points), 1) if abs(b[1] - a[1]) >= STEP_K]
    return points[leaps[-1] :] if leaps else points


LEAPT_S, LEAP_K = 300.0, 10.0


def _core_at_board_s(core: Track, since_s: float, now_s: float, food: Food) -> float:
    """How long a core must show its board's temperature, as it does since then, to be doubted [s]:
    not for long if it leapt there, or rests there though the food began elsewhere; otherwise until
    food must have begun to warm.
    """
    before_c = core.at(since_s - 60.0) if since_s - 60.0 >= food.settled_s else None
    if before_c is not None and abs(before_c - core.values[-1]) >= LEAP_K:
        return LEAPT_S
    if rests(core, food, now_s, max(since_s, now_s - RESTS_S)):
        return RESTS_S
    return float(75 * 60.0 * max(food.mass_kg or 1.0, 1.0) ** (2 / 3))


def _reversed(probe: str, role: Role, track: Track, now_s: float, around: Around) -> Sign | None:
    """Colder than all around it, and falling: nothing in the sun does that."""
    air_c, food = around.air_c(track), around.food
    settled_s = food.settled_s if food else float("-inf")
    since_s = max(now_s - FALL_S, settled_s, around.opened_s + SETTLING_S)
    points = _without_leap(track.between(since_s, now_s))
    if track.board_c is None:
        return None  # a probe without converter board has no wires to reverse
    if air_c is None or len(points) < 5 or points[-1][0] - points[0][0] < FALL_S / 2:
        return None
    first_c, now_c = points[0][1], points[-1][1]
    if now_c > air_c - COLDER_K or first_c - now_c < FALL_K:
        return None
    other = around.pot if role is Role.CORE else around.core
    warmer = other is not None and other.last is not None and other.last > now_c + COLDER_K
    if not warmer and around.sunny_s < FALL_S:
        return None
    seconds = points[-1][0] - points[0][0]
    return Sign(
        SignKind.REVERSED, probe, points[0][0], first_c, now_c, seconds, Role.AMBIENT, air_c
    )
