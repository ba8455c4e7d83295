"""A cook that is yet to come, gone through by some hundred imagined ones side by side.

All of them meet the same skies whatever is asked, and keep their constants: so two loading times,
two masses or two ways to turn differ by what they are and not by chance.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, futures, light, load
from noonpot.core.cooklog import Loaded
from noonpot.core.dayahead import STEP_S, DayAhead
from noonpot.core.insight import FOOD_DOUBT, KETTLE_DOUBT
from noonpot.core.learning import Knowledge, cooker_belief, food_belief
from noonpot.core.skykind import SkyKind
from noonpot.core.station import CookerSpec

Floats = NDArray[np.float64]

MEMBERS = 200
ASIDE = slice(None, None, 4)
"""What is tried in many variants is tried on every fourth member only."""
SURE = 0.8
"""The chance that a plan asks for."""
PUT_OUT_STEPS = 3
"""How finely the time is sought at which the cooker must be put out [steps]."""
MOST_STEPS = 36
"""Nothing is gained by preheating longer [steps]."""
NEARLY_K = 5.0
AHEAD_H = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
"""So many hours after loading the sun stands where a cooker that is left alone might point."""


@dataclass(frozen=True, slots=True)
class Tending:
    """How the cooker will be turned: every so often [s]; or ``left``, aimed once, when the food
    goes in, and turned only before that.
    """

    every_s: float = 3600.0
    left: bool = False


@dataclass(frozen=True, slots=True)
class Circumstances:
    """``boiling_c`` is where water boils and ``air_c`` the air of the day [°C]; ``hold_s`` is how
    long the core must stay at the target [s], ``pot_c`` what the pot should have at loading [°C],
    None for food that heats up with it.
    """

    boiling_c: float
    air_c: float = 20.0
    hold_s: float = 0.0
    pot_c: float | None = None
    tending: Tending = field(default_factory=Tending)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What becomes of one loading: ``done_s`` [s] from loading until each core has held its target,
    infinite where it never does, shape (n,); the ``cores`` [°C] at loading and at the end of each
    step after it, shape (n, steps + 1); whether each pot was hot enough at loading, shape (n,).
    """

    out: int
    load: int
    done_s: Floats
    cores: Floats
    hot: NDArray[np.bool_]
    toward: int | None = None


class Rehearsal:
    """The imagined cooks of one cooker and one load on one day.

    ``loaded`` says what is to be cooked, from its ``start_c`` on; its time does not matter.
    """

    def __init__(
        self,
        spec: CookerSpec,
        knowledge: Knowledge,
        loaded: Loaded,
        day: DayAhead,
        kind: SkyKind,
        around: Circumstances,
    ) -> None:
        rng = np.random.default_rng(int(day.begin_s // 86400))
        kettle = cooker_belief(knowledge, spec).draw(MEMBERS, rng)[rng.permutation(MEMBERS)]
        kettle = kettle + KETTLE_DOUBT * rng.standard_normal(kettle.shape)
        food = food_belief(knowledge, loaded).draw(MEMBERS, rng)
        food = food + FOOD_DOUBT * rng.standard_normal(food.shape)
        start_c = around.air_c if loaded.start_c is None else loaded.start_c
        cold, no = np.full(MEMBERS, around.air_c), np.zeros(MEMBERS)
        self.day, self.loaded, self.around = day, loaded, around
        self._begin = futures.Start(
            kettle=cooker.Cooker.of(kettle),
            food=load.FoodConstants.of(food),
            stages=load.start(np.full(MEMBERS, start_c)),
            pot_c=cold,
            wall_c=cold,
            push=no,
            pace=no,
            load_share=no,
        )
        heat = load.heat_j_per_k(loaded.mass_kg, loaded.wet)
        self._share = heat / self._begin.kettle.capacity
        self._skies = kind.draw(day.steps_s, MEMBERS, rng)
        self._turned = self._light(day.turned(around.tending.every_s))
        self._out = self._put_out()

    def course(self, step: int) -> Course:
        """What becomes of the food that is put in when this step begins."""
        out = int(self._out[step])
        begin, useful = self._begin, self._turned
        heated = self._run(begin, useful[:, out:step], out)
        loaded = replace(heated.end, stages=begin.stages, load_share=self._share)
        toward = self._best_aim(loaded, step) if self.around.tending.left else None
        ahead = useful[:, step:] if toward is None else self._light(self.day.left(toward))[:, step:]
        path = self._run(loaded, ahead, step)
        cores = np.column_stack([begin.stages[-1], path.cores])
        done_s = held(cores, self.loaded.target_c, self.around.hold_s)
        hot = heated.end.pot_c >= (-np.inf if self.around.pot_c is None else self.around.pot_c)
        return Course(out, step, done_s, cores, hot, toward)

    def _light(self, misaim: Floats, members: slice = slice(None)) -> Floats:
        kettle = self._begin.kettle
        acceptance, diffuse = kettle.acceptance[members, None], kettle.diffuse[members, None]
        skies = self._skies[members]
        return light.on_aperture(skies, self.day.clear, misaim, acceptance, diffuse)

    def _run(self, begin: futures.Start, useful: Floats, step: int) -> futures.Path:
        steps_s = self.day.steps_s[step : step + useful.shape[1]]
        target_c = self.loaded.target_c
        return futures.run(
            begin, useful, steps_s, self.around.air_c, self.around.boiling_c, target_c
        )

    def _put_out(self) -> NDArray[np.int_]:
        """For each step at which food might go in, the step at which the empty cooker must stand in
        the sun, shape (steps + 1,): the latest that most likely makes the pot as hot as the food
        wants, or nearly as hot as it can get.
        """
        steps = np.arange(len(self.day) + 1)
        if self.around.pot_c is None or len(self.day) == 0:
            return steps
        starts = steps[:-1:PUT_OUT_STEPS]
        pots = self._preheated(starts)
        good = (pots >= self.around.pot_c) | (pots >= pots[:1] - NEARLY_K)
        sure = (good.mean(axis=1) >= SURE) & (starts[:, None] <= steps)
        latest = np.where(sure, starts[:, None], 0).max(axis=0)
        # Nobody preheats all day, nor fetches a cooker back to preheat it for a later loading.
        return np.maximum.accumulate(np.maximum(latest, steps - MOST_STEPS))

    def _preheated(self, starts: NDArray[np.int_]) -> Floats:
        """The pots when each step begins, if the empty cooker is put out in each of ``starts``
        [°C], shape (starts, members, steps + 1).
        """
        members = np.arange(MEMBERS)[ASIDE]
        kettle = self._begin.kettle.rows(np.tile(members, len(starts)))
        useful = np.tile(self._turned[ASIDE], (len(starts), 1))
        begins = np.repeat(starts, len(members))
        air_c, no = self.around.air_c, np.zeros(len(begins))
        pot = wall = np.full(len(begins), air_c)
        pots = [pot]
        for i in range(len(self.day)):
            after = cooker.step(kettle, pot, wall, useful[:, i], air_c, no, no, STEP_S)
            pot, wall = (np.where(begins <= i, new, air_c) for new in after)
            pots.append(pot)
        return np.array(pots).T.reshape(len(starts), len(members), -1)

    def _best_aim(self, loaded: futures.Start, step: int) -> int:
        """Where to point a cooker that is left alone from now on: the step in which the sun will be
        there. The one that gets most loads done counts, then the one that does so soonest.
        """
        last = len(self.day) - 1
        aims = sorted({min(step + int(h * 3600 / STEP_S), last) for h in AHEAD_H})
        some = loaded.rows(np.tile(np.arange(MEMBERS)[ASIDE], len(aims)))
        useful = np.concatenate([self._light(self.day.left(aim), ASIDE)[:, step:] for aim in aims])
        path = self._run(some, useful, step)
        cores = np.column_stack([some.stages[-1], path.cores])
        done_s = held(cores, self.loaded.target_c, self.around.hold_s).reshape(len(aims), -1)
        late_s = np.minimum(done_s, 2 * STEP_S * len(self.day)).mean(axis=1)
        return aims[int(late_s.argmin())]


def held(cores: Floats, target_c: float, hold_s: float) -> Floats:
    """When each core has stayed at the target for so long [s], infinite where it never does, shape
    (n,). ``cores`` are those at the ends of steps and at the start of the first, shape (n, steps +
    1); between two, a core moves straight.

    >>> held(np.array([[20.0, 80.0, 100.0, 100.0]]), 90.0, 300.0)  # reached after one step and half
    array([750.])
    """
    n, ends = cores.shape
    over = cores >= target_c
    rise = np.diff(cores, axis=1)
    part = (target_c - cores[:, :-1]) / np.where(rise > 0, rise, 1.0)
    crossed = np.where(over[:, 1:] & ~over[:, :-1], STEP_S * (np.arange(ends - 1) + part), -np.inf)
    since = np.column_stack([np.where(over[:, 0], 0.0, -np.inf), crossed])
    since = np.maximum.accumulate(since, axis=1)
    ended = since + hold_s
    enough = over & (STEP_S * np.arange(ends) >= ended)
    first = enough.argmax(axis=1)
    done_s = ended[np.arange(n), first]
    return np.where(enough.any(axis=1), done_s, np.inf)
