"""The best aim for a cooker that is left alone for a while, and what that costs against turning."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, futures, light
from noonpot.core.cook import Aim
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.exposure import Exposure, climb
from noonpot.core.insight import Insight
from noonpot.core.learning import Habit, Knowledge, cooker_belief
from noonpot.core.outlook import ASIDE, done_s, insight_into
from noonpot.core.station import CookerSpec, Place
from noonpot.core.sun import DayTable

Floats = NDArray[np.float64]

STEP_S = 120.0
FINE_DEG = 1.0
"""The search for the aim of a load ends here: a person aims no better than some degrees."""


@dataclass(frozen=True, slots=True)
class Absence:
    """A time in which nobody turns the cooker, from ``since_s`` to ``until_s`` [Unix s]."""

    since_s: float
    until_s: float

    def __post_init__(self) -> None:
        if not self.until_s > self.since_s:
            raise ValueError(f"an absence of {self.until_s - self.since_s:g} s; it must be above 0")


@dataclass(frozen=True, slots=True)
class Ending:
    """How likely a load reaches its target before the sun is lost, and the middle of the times
    at which it then does [Unix s], None where it never does.
    """

    p_done: float
    done_s: float | None


@dataclass(frozen=True, slots=True)
class LeftAim:
    """Where to point a cooker that is left alone.

    ``cost`` is the share of the light that is lost against turning every half hour [0 to 1].
    ``left`` and ``turned`` tell how the load ends either way, None when no load is to be foreseen.
    """

    aim: Aim
    cost: float
    left: Ending | None = None
    turned: Ending | None = None


def for_light(
    tables: Sequence[DayTable],
    place: Place,
    spec: CookerSpec,
    knowledge: Knowledge,
    absence: Absence,
) -> LeftAim | None:
    """The aim that gathers the most light of a clear sky; None while the sun is lost all the time.

    ``tables`` are the day tables of the absence.
    """
    count = int(np.ceil((absence.until_s - absence.since_s) / STEP_S))
    step_s = (absence.until_s - absence.since_s) / count
    times_s: Floats = absence.since_s + step_s * (np.arange(count, dtype=np.float64) + 0.5)
    clear = light.clear_sky(tables, place.horizon, times_s)
    if not clear.up.any():
        return None
    kettle = cooker.Cooker.of(cooker_belief(knowledge, spec).mean[None, :])
    exposure = Exposure(
        times_s=times_s,
        steps_s=np.full(count, step_s),
        clear=clear,
        skies=np.ones((1, count)),
        acceptance=kettle.acceptance[:, None],
        diffuse=kettle.diffuse[:, None],
    )
    aim = exposure.best()
    return _found(exposure, aim, exposure.turned(exposure.misaims(aim[None, :])[0]))


def for_load(
    log: CookLog,
    knowledge: Knowledge,
    loaded: Loaded,
    situation: Situation,
    absence: Absence,
) -> LeftAim | None:
    """The aim that makes it most likely that the load is done, and of several such the one that
    ends soonest; None for a load that is done, or when the sun is lost all the time.
    """
    now_s = situation.grid.now_s
    if done_s(log, loaded, now_s) is not None:
        return None
    _, insight = insight_into(log, knowledge, loaded, situation)
    inside = (insight.times_s >= absence.since_s) & (insight.times_s < absence.until_s)
    if not inside.any():
        return None
    habit = knowledge.habit.after([at_s for at_s, _, _ in log.aims_until(now_s)])
    usual = _returned(insight, habit, absence)
    trial = _Trial(insight, log.boiling_c, loaded.target_c, usual, inside)
    exposure = _exposure(insight, inside)
    starts = np.vstack([exposure.best(), exposure.starts()])
    aim = climb(lambda aims: trial.worth(exposure.misaims(aims)), starts, FINE_DEG)
    left = exposure.misaims(aim[None, :])[0]
    turned = exposure.turned(left)
    return _found(exposure, aim, turned, *trial.endings(np.array([left, turned]), now_s))


def _found(exposure: Exposure, aim: Floats, turned: Floats, *endings: Ending) -> LeftAim:
    left = exposure.misaims(aim[None, :])[0]
    had, most = exposure.gathered(np.array([left, turned])).sum(axis=1)
    cost = max(0.0, float(1 - had / most)) if most > 0 else 0.0
    return LeftAim(Aim(float(aim[0] % 360), float(aim[1])), cost, *endings)


def _exposure(insight: Insight, inside: NDArray[np.bool_]) -> Exposure:
    rows = np.flatnonzero(inside)
    span = slice(int(rows[0]), int(rows[-1]) + 1)
    return Exposure(
        times_s=insight.times_s[span],
        steps_s=insight.steps_s[span],
        clear=insight.clear.part(span),
        skies=insight.skies[ASIDE, span],
        acceptance=insight.begin.kettle.acceptance[ASIDE, None],
        diffuse=insight.begin.kettle.diffuse[ASIDE, None],
    )


def _returned(insight: Insight, habit: Habit, absence: Absence) -> Floats:
    """The misaims to come [degrees] but for the absence: whoever comes back turns the cooker to the
    sun, and then as usual. Shape (members, steps).
    """
    misaims = insight.misaims.copy()
    back = int(np.searchsorted(insight.times_s, absence.until_s))
    if back == len(insight.times_s):
        return misaims
    rng = np.random.default_rng(int(absence.until_s) % 2**32)
    after = insight.clear.part(slice(back, None))
    ends_s = np.cumsum(insight.steps_s[back:])
    found = np.maximum(futures.between_suns(after)[0], futures.SETTLED_DEG)
    misaims[:, back:] = futures.future_misaim(found, after, ends_s, 0.0, habit, len(misaims), rng)
    return misaims


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """The futures of a load under several misaims within the absence, one beside the other."""

    insight: Insight
    boiling_c: float
    target_c: float
    misaims: Floats
    inside: NDArray[np.bool_]

    def worth(self, misaims: Floats) -> Floats:
        """More members done counts most, then how soon, then how warm the others get; shape (k,)
        for misaims of shape (k, n).
        """
        path = self._run(misaims, ASIDE)
        late_s = float(self.insight.steps_s.sum())
        ends = np.isfinite(path.reached_s)
        short_k = path.cores.max(axis=1) - self.target_c
        progress = np.where(ends, 1 - np.where(ends, path.reached_s, 0.0) / late_s, short_k / 1e3)
        ends, progress = (x.reshape(len(misaims), -1) for x in (ends, progress))
        # progress lies between -1 and 1: all of it weighs less than one member
        return np.asarray(1 + ends.mean(axis=1) + progress.mean(axis=1) / (2 * ends.shape[1]))

    def endings(self, misaims: Floats, now_s: float) -> list[Ending]:
        """How the load ends under each of the misaims of shape (k, n)."""
        reached = self._run(misaims, slice(None)).reached_s.reshape(len(misaims), -1)
        return [_ending(row[np.isfinite(row)], len(row), now_s) for row in reached]

    def _run(self, misaims: Floats, members: slice) -> futures.Path:
        insight, usual = self.insight, self.misaims[members]
        useful = []
        for fixed in misaims:
            whole = usual.copy()
            whole[:, self.inside] = fixed
            useful.append(insight.light(insight.skies[members], whole, members))
        rows = np.tile(np.arange(len(self.misaims))[members], len(misaims))
        return futures.run(
            insight.begin.rows(rows),
            np.concatenate(useful),
            insight.steps_s,
            insight.air_c,
            self.boiling_c,
            self.target_c,
        )


def _ending(done: Floats, members: int, now_s: float) -> Ending:
    middle = now_s + float(np.median(done)) if len(done) else None
    return Ending(len(done) / members, middle)
