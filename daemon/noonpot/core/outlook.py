"""From a cook as it stands to the ends of its futures, and what cloud and aim cost it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core import futures, light
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.estimation import BLOCK, BLOCK_S, SETTLING_S, FoodCase
from noonpot.core.insight import Insight, understand, with_pot
from noonpot.core.learning import Knowledge
from noonpot.core.policy import HOT_PROBE_S
from noonpot.core.readings import Role

Floats = NDArray[np.float64]

ASIDE = slice(None, None, 3)
"""What might be otherwise is asked of every third member only."""
CLOUDY = 0.9
"""Below this clear-sky index one speaks of cloud."""
BESIDE_DEG = 5.0
"""A smaller misaim is not worth asking what it costs."""
LEFT_S = (1800.0, 7200.0)
"""Whoever does not turn the cooker now is taken to come after the usual time, within these."""
LONG_HOLD_S = 900.0
QUANTILES = np.array([0.1, 0.5, 0.9])


@dataclass(frozen=True, slots=True)
class Cloud:
    """Cloud without a break since ``since_s`` [Unix s]; what it costs [s], None if unknown."""

    since_s: float
    cost_s: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Seconds from now until each future reaches the target, infinite where it does not, shape
    (n,); and what is seen of sky and aim.

    ``band`` are the quantiles 10, 50, 90 % of the core [°C] at ``band_s`` seconds from now, shape
    (3, steps). ``turn_saves_s`` is how much earlier [s] the load is done if the cooker is turned
    now and not only after the usual time, None when that was not asked.
    """

    target_c: float
    reached_s: Floats
    clear_sky_index: float | None
    misaim_deg: float | None
    band_s: Floats
    band: Floats
    core_read: bool = True
    pot_read: bool = True
    cloud: Cloud | None = None
    turn_saves_s: float | None = None


def look_ahead(log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation) -> Outlook:
    """March some hundred futures of this load until the sun is lost."""
    target, grid = loaded.target_c, situation.grid
    angle = float(situation.misaim_deg[-1]) if log.aims_until(grid.now_s) else None
    ended_s = done_s(log, loaded, grid.now_s)
    if ended_s is not None:
        seen = light.index_of(grid.ghi, situation.sky)[-BLOCK:]
        shown = float(np.nanmean(seen)) if np.isfinite(seen).any() else None
        return Outlook(
            target_c=target,
            reached_s=np.array([ended_s - grid.now_s]),
            clear_sky_index=shown,
            misaim_deg=angle,
            band_s=np.empty(0),
            band=np.empty((3, 0)),
            # what must hold its heat for long still needs the sun
            turn_saves_s=0.0 if angle is not None and loaded.hold_s < LONG_HOLD_S else None,
        )
    case, insight = insight_into(log, knowledge, loaded, situation)
    lights = {"usual": insight.light(insight.skies, insight.misaims)}
    lights |= _otherwise(log, knowledge, insight, angle)
    paths = _marched(insight, lights, log.boiling_c, target)
    usual = paths["usual"]
    saved = _earlier(paths, "left", "turned", insight)
    cores = np.column_stack([insight.begin.stages[-1], usual.cores])
    return Outlook(
        target_c=target,
        reached_s=usual.reached_s,
        clear_sky_index=insight.index_now,
        misaim_deg=angle,
        band_s=np.append(0.0, np.cumsum(insight.steps_s)),
        band=np.asarray(np.quantile(cores, QUANTILES, axis=0)),
        core_read=bool(np.isfinite(case.core_c).any()),
        pot_read=bool(grid.pot_read[-1]),
        cloud=_cloud(insight, loaded, grid.now_s, paths),
        turn_saves_s=0.0 if saved is None and angle is not None else saved,
    )


def insight_into(
    log: CookLog, knowledge: Knowledge, loaded: Loaded, situation: Situation
) -> tuple[FoodCase, Insight]:
    """What the load has shown so far, and all that its futures start from."""
    if not situation.grid.pot_read.all():
        situation = with_pot(log, knowledge, loaded, situation)
    case, _ = log.food_case(situation, loaded)
    return case, understand(log, knowledge, loaded, situation, case)


def done_s(log: CookLog, loaded: Loaded, now_s: float) -> float | None:
    """When the core was first read at its target [Unix s], None while it was not.

    A probe that hung in the hot pot and went into cold food shows the pot for a while: what began
    above the target counts only when it stays there.
    """
    times, values = log.trace.between(Role.CORE, loaded.at_s + SETTLING_S, now_s)
    over = values >= loaded.target_c
    if len(over) and over[0] and not (over.all() and times[-1] - times[0] >= HOT_PROBE_S):
        over = over & (np.cumsum(~over) > 0)
    reached = np.flatnonzero(over)
    return float(times[reached[0]]) if len(reached) else None


def _otherwise(
    log: CookLog, knowledge: Knowledge, insight: Insight, angle: float | None
) -> dict[str, Floats]:
    """Light on the aperture if the sky were clear from now on; with the aim left as it is for the
    usual time; and turned to the sun now, and then left so long. Only what is worth asking.
    """
    lights: dict[str, Floats] = {}
    if len(insight.steps_s) == 0:
        return lights
    skies, misaims = insight.skies[ASIDE], insight.misaims[ASIDE]
    if insight.index_now is not None and insight.index_now < CLOUDY:
        clear = np.broadcast_to(insight.top[ASIDE, None], skies.shape)
        lights["clear"] = insight.light(clear, misaims, ASIDE)
    if angle is not None and angle > BESIDE_DEG:
        sun = (insight.times_s[0], insight.clear.azimuth_deg[0], insight.clear.elevation_deg[0])
        soon = np.cumsum(insight.steps_s) <= np.clip(knowledge.habit.every_s, *LEFT_S)
        for name, aim in (("left", log.aims[-1]), ("turned", sun)):
            fixed = light.misaim([aim], insight.times_s, insight.clear)
            lights[name] = insight.light(skies, np.where(soon, fixed, misaims), ASIDE)
    return lights


def _marched(
    insight: Insight, lights: Mapping[str, Floats], boiling_c: float, target_c: float
) -> dict[str, futures.Path]:
    """All variants in one march, side by side."""
    everyone = np.arange(len(insight.begin.pot_c))
    members = [everyone if name == "usual" else everyone[ASIDE] for name in lights]
    begin = insight.begin.rows(np.concatenate(members))
    useful = np.concatenate(list(lights.values()))
    path = futures.run(begin, useful, insight.steps_s, insight.air_c, boiling_c, target_c)
    bounds = np.cumsum([len(m) for m in members])[:-1]
    parts = np.split(np.arange(len(path.reached_s)), bounds)
    return {name: path.rows(part) for name, part in zip(lights, parts, strict=True)}


def _earlier(
    paths: Mapping[str, futures.Path], this: str, other: str, insight: Insight
) -> float | None:
    """How much earlier the other variant ends, in the middle of the members that then end [s]; what
    else never ends is taken to end with the sun. None where it was not marched.
    """
    if other not in paths:
        return None
    late = float(insight.steps_s.sum())
    slow, fast = paths[this].reached_s, paths[other].reached_s
    if this == "usual":
        slow = slow[ASIDE]
    ends = np.isfinite(fast)
    return float(np.median(np.minimum(slow, late)[ends] - fast[ends])) if ends.any() else 0.0


def _cloud(
    insight: Insight, loaded: Loaded, now_s: float, paths: Mapping[str, futures.Path]
) -> Cloud | None:
    """Since when it has been cloudy, and how much later the load is done for it: the light missed
    so far, in time of clear sky, and what is still to come. No cost is told of a load that will
    hardly be done.
    """
    later_s = _earlier(paths, "usual", "clear", insight)
    if later_s is None:
        return None
    above = np.flatnonzero(~(insight.index < CLOUDY))
    first = int(above[-1]) + 1 if len(above) else 0
    begins = now_s - BLOCK_S * (len(insight.index) - np.arange(len(insight.index)))
    rows = np.arange(len(begins)) >= max(first, int(np.searchsorted(begins, loaded.at_s)))
    missed_s = BLOCK_S * float(insight.missed()[rows].sum())
    likely = np.isfinite(paths["usual"].reached_s).mean() >= 0.5
    return Cloud(float(begins[first]), missed_s + later_s if likely else None)
