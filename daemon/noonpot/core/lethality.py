"""How far heat has made food safe: step tables of the food codes, and the lethality integral.

Both take a course of straight lines between trustworthy readings of the core, and both are exact
for it. Nothing is credited below 54.4 °C, and nothing where there was no reading: whoever feeds
them leaves gaps out. A dose of 1 is what the food needs.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

LEAST_C = (130 - 32) / 1.8
"""Cooler food is not made safe by time: the first row of FSIS-GD-2021-14 and of the FDA Food Code,
54.4 °C.
"""
LEAST_S = 15.0
"""How long a temperature must be seen that the tables call enough at once: FDA Food Code up to
2013, 3-401.11, 165 °F for 15 s. One false reading makes nothing safe.
"""


def lethality_s(seconds: float, from_c: float, to_c: float, ref_c: float, z_k: float) -> float:
    """Time at ``ref_c`` that kills as much as a straight line of temperature [s]:
    F = ∫ 10^((T - ref) / z) dt.

    Parameters
    ----------
    seconds
        How long the line takes. [s]
    from_c, to_c
        Temperature at its ends. [°C]
    ref_c, z_k
        Reference temperature, and how many kelvins kill ten times as fast. [°C, K]

    >>> lethality_s(120.0, 70.0, 70.0, 70.0, 7.5)
    120.0
    >>> round(lethality_s(2400.0, 40.0, 80.0, 70.0, 7.5) / 60, 3)  # 7.5/ln 10 (10^1.333 - 10^-4)
    70.174
    """
    rate = math.log(10.0) / z_k
    begin, rise = math.exp(rate * (from_c - ref_c)), rate * (to_c - from_c)
    # expm1 keeps its digits where the line is almost flat.
    return seconds * begin * (math.expm1(rise) / rise if rise else 1.0)


def seconds_between(
    seconds: float, from_c: float, to_c: float, low_c: float, high_c: float
) -> float:
    """How much of a straight line of temperature lies from ``low_c`` up to ``high_c`` [s].

    >>> seconds_between(60.0, 0.0, 60.0, 5.0, 57.0)
    52.0
    """
    if from_c == to_c:
        return seconds if low_c <= from_c < high_c else 0.0
    lower, upper = min(from_c, to_c), max(from_c, to_c)
    share = (min(upper, high_c) - max(lower, low_c)) / (upper - lower)
    return seconds * max(share, 0.0)


@dataclass(frozen=True, slots=True)
class Steps:
    """A table of a food code: from each temperature [°C] on, how long it takes [s]. Between two
    rows the cooler one counts, as the codes ask.
    """

    rows: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not self.rows:
            raise ValueError("a table needs at least one row of temperature and time")
        for (cooler, longer), (hotter, shorter) in pairwise(self.rows):
            if hotter <= cooler or shorter > longer:
                raise ValueError(f"row of {hotter:g} °C: rows must grow hotter and shorter")

    def needs_s(self, temp_c: float) -> float:
        """How long food must stay at a temperature [s]; infinite below the first row.

        >>> Steps(((60.0, 720.0), (62.8, 240.0))).needs_s(62.7)
        720.0
        """
        return next((s for row_c, s in reversed(self.rows) if row_c <= temp_c), math.inf)

    def dose(self, seconds: float, from_c: float, to_c: float) -> float:
        """What a straight line of temperature does of the whole."""
        if max(from_c, to_c) < self.rows[0][0]:
            return 0.0
        ends = [row_c for row_c, _ in self.rows[1:]] + [math.inf]
        return sum(
            seconds_between(seconds, from_c, to_c, row_c, end_c) / max(need_s, LEAST_S)
            for (row_c, need_s), end_c in zip(self.rows, ends, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Curve:
    """Death by D and z: at ``ref_c`` [°C] nine germs of ten die in ``d_min`` [min], and ten times
    as fast with every ``z_k`` [K] more; food needs ``log`` such tenths.
    """

    d_min: float
    ref_c: float
    z_k: float
    log: float

    def __post_init__(self) -> None:
        if min(self.d_min, self.z_k, self.log) <= 0:
            raise ValueError(
                f"d_min {self.d_min:g}, z_k {self.z_k:g} and log {self.log:g} must be above 0"
            )

    def needs_s(self, temp_c: float) -> float:
        """How long food must stay at a temperature [s]; infinite below 54.4 °C.

        >>> Curve(d_min=0.5, ref_c=70.0, z_k=10.0, log=6.0).needs_s(60.0)
        1800.0
        """
        if temp_c < LEAST_C:
            return math.inf
        return 60 * self.d_min * self.log * 10 ** ((self.ref_c - temp_c) / self.z_k)

    def dose(self, seconds: float, from_c: float, to_c: float) -> float:
        """What a straight line of temperature does of the whole."""
        if max(from_c, to_c) < LEAST_C:
            return 0.0
        whole_s = 60 * self.d_min * self.log
        fast_c = max(self.ref_c + self.z_k * math.log10(whole_s / LEAST_S), LEAST_C)
        slow_s = seconds_between(seconds, from_c, to_c, LEAST_C, fast_c)
        begin_c, end_c = (min(max(x, LEAST_C), fast_c) for x in (from_c, to_c))
        killing_s = lethality_s(slow_s, begin_c, end_c, self.ref_c, self.z_k)
        fast_s = seconds_between(seconds, from_c, to_c, fast_c, math.inf)
        return killing_s / whole_s + fast_s / LEAST_S


Lethality = Steps | Curve


def _steps(*rows: tuple[float, float]) -> Steps:
    """A table as printed, in °F and seconds."""
    return Steps(tuple(((temp_f - 32) / 1.8, seconds) for temp_f, seconds in rows))


def _minutes(*rows: tuple[float, float]) -> list[tuple[float, float]]:
    return [(temp_f, 60 * minutes) for temp_f, minutes in rows]


ROAST = _steps(
    *_minutes((130, 112), (131, 89), (133, 56), (135, 36), (136, 28), (138, 18), (140, 12)),
    *_minutes((142, 8), (144, 5), (145, 4)),
    *((147, 134), (149, 85), (151, 54), (153, 34), (155, 22), (157, 14), (158, 0)),
)
"""Whole beef, pork and ham: FDA Food Code 3-401.11(B)(2)."""

MEAT = _steps(
    *_minutes((130, 121), (131, 97), (132, 77), (133, 62), (134, 47), (135, 37), (136, 32)),
    *_minutes((137, 24), (138, 19), (139, 15), (140, 12), (141, 10), (142, 8), (143, 6)),
    *_minutes((144, 5), (145, 4)),
    *((146, 182), (147, 144), (148, 115), (149, 91), (150, 72), (151, 58), (152, 46), (153, 37)),
    *((154, 29), (155, 23), (156, 19), (157, 15), (158, 0)),
)
"""Meat of any cut without poultry in it, 7.0 log: USDA FSIS-GD-2021-14, tables 2 and 6."""

MEAT_6_5 = _steps(
    *_minutes((130, 112), (131, 89), (132, 71), (133, 56), (134, 45), (135, 36), (136, 28)),
    *_minutes((137, 23), (138, 18), (139, 15), (140, 12), (141, 9), (142, 8), (143, 6)),
    *_minutes((144, 5), (145, 4)),
    *((146, 169), (147, 134), (148, 107), (149, 85), (150, 67), (151, 54), (152, 43), (153, 34)),
    *((154, 27), (155, 22), (156, 17), (157, 14), (158, 0)),
)
"""Cooked beef and roasts, 6.5 log: USDA FSIS-GD-2021-14, tables 2 and 6."""

POULTRY = _steps(
    *_minutes((136, 81.4), (138, 52.9), (140, 35), (142, 23.7), (144, 16.6), (145, 13.8)),
    *_minutes((146, 11.5), (148, 7.7), (150, 4.9), (152, 2.8), (154, 1.6), (155, 1.3), (156, 1.0)),
    *((158, 40.9), (160, 26.9), (161, 21.9), (162, 17.7), (163, 14.4), (164, 11.7), (165, 0)),
)
"""Chicken, turkey and what has them in it, 7 log: USDA FSIS-GD-2021-14, tables 3 and 4, of the
columns for 12 % fat (or unknown) the longer time. No raw food needs more; unknown food is judged
by it.
"""

MINCED = _steps((145, 180), (150, 60), (155, 17), (158, 0))
"""Minced or injected meat, beaten eggs: FDA Food Code 3-401.11(A)(2)."""

FISH = _steps((145, 15))
"""Fish, whole eggs, steaks: FDA Food Code 3-401.11(A)(1)."""

REHEATED = _steps((165, 15))
"""What was cooked before, and dishes of many things: FDA Food Code 3-403.11."""

PLANTS = _steps((135, 0))
"""Grains and vegetables that are kept hot: FDA Food Code 3-401.13."""

WATER = _steps((149, 360))
"""Drinking water: R. Metcalf and others on solar pasteurisation, 65 °C (149 °F) for 6 min."""

MILK = _steps((145, 1800), (161, 15))
"""Milk, pasteurised in the batch: 145 °F for 30 min or 161 °F for 15 s, US Pasteurized Milk
Ordinance and 21 CFR 1240.61 (from memory).
"""

TABLES: dict[str, Lethality] = {
    "roast": ROAST,
    "meat": MEAT,
    "meat-6.5-log": MEAT_6_5,
    "poultry": POULTRY,
    "minced": MINCED,
    "fish": FISH,
    "reheated": REHEATED,
    "plants": PLANTS,
    "water": WATER,
    "milk": MILK,
}
"""What foods.toml may ask for by name."""
