"""What past cooks teach about a cooker, its foods, and how often it is turned."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from noonpot.core import cooker, load
from noonpot.core.belief import Belief, posterior
from noonpot.core.cook import Event
from noonpot.core.cooklog import CookLog, Loaded, Situation
from noonpot.core.estimation import cooker_misses, food_misses, run_food
from noonpot.core.foods import Food
from noonpot.core.recording import Recording
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable, unix_s
from noonpot.core.trace import BIN_S

Floats = NDArray[np.float64]

COOKER_DRIFT = np.array([0.06, 0.08, 0.12, 0.15, 0.05, 0.05, 0.1, 0.05])
"""How much a cooker differs from day to day: wind, dirty glass, another lid (our choice)."""
FOOD_DRIFT = np.array([0.12, 0.12, 0.15, 0.3, 0.12, 0.03])
"""How much one loaf differs from the next of its kind (our choice)."""
KIN = {True: "any wet food", False: "any dry food", None: "any food"}
KIN_DRIFT = np.array([0.25, 0.25, 0.35, 0.5, 0.35, 0.05])
"""What foods of one kind share; how much one of them differs from the next (our choice)."""
MEMBERS, ROUNDS = 320, 7
HABIT_S = 3600.0
MOST_GAPS = 60


@dataclass(frozen=True, slots=True)
class Habit:
    """How this cooker is turned: usual time between turns [s], and the share of cooks in which
    anybody turned it at all.
    """

    every_s: float = HABIT_S
    share: float = 0.6

    def after(self, turns_s: Sequence[float]) -> "Habit":
        """The habit after today's turns (Unix times [s]): who has turned will turn again."""
        gaps = np.diff(turns_s)
        if len(gaps) == 0:
            return self
        known = np.append(gaps, [self.every_s] * max(3 - len(gaps), 0))
        return Habit(float(np.exp(np.log(np.maximum(known, 60.0)).mean())), max(self.share, 0.9))


@dataclass(frozen=True, slots=True)
class Knowledge:
    """What is known of one cooker before the cook: means and covariances of its constants and of
    the constants of 1 kg of each food, as plain lists; the last times between two turns [s], and in
    how many of the cooks it was turned at all.
    """

    cooks: int = 0
    cooker: tuple[list[float], list[list[float]]] | None = None
    foods: Mapping[str, tuple[list[float], list[list[float]]]] = field(default_factory=dict)
    gaps_s: tuple[float, ...] = ()
    turned: int = 0

    @property
    def habit(self) -> Habit:
        """How this cooker is turned, by what is known."""
        if self.cooks == 0:
            return Habit()
        every_s = float(np.median(self.gaps_s)) if self.gaps_s else HABIT_S
        return Habit(every_s, (self.turned + 0.6) / (self.cooks + 1))


def cooker_belief(knowledge: Knowledge, spec: CookerSpec) -> Belief:
    """What is believed about the cooker before today."""
    if knowledge.cooker is None:
        return Belief.of(*cooker.prior(spec.aperture_m2, spec.acceptance_deg))
    mean, cov = knowledge.cooker
    return Belief(np.array(mean), np.array(cov)).widened(COOKER_DRIFT)


def food_belief(knowledge: Knowledge, loaded: Loaded) -> Belief:
    """What is believed about this load before it was seen to warm up."""
    size = load.by_mass(loaded.mass_kg, loaded.wet)
    for name, drift in ((loaded.food, FOOD_DRIFT), (KIN[loaded.wet], KIN_DRIFT)):
        if name in knowledge.foods:
            mean, cov = (np.array(x) for x in knowledge.foods[name])
            return Belief(mean + size, cov).widened(drift)
    mean, sd = load.prior(loaded.wet)
    return Belief.of(mean + size, sd)


def learn(
    recordings: Sequence[Recording],
    spec: CookerSpec,
    tables: Sequence[DayTable],
    foods: Mapping[str, Food],
    before: Knowledge | None = None,
) -> Knowledge:
    """What these recordings of one cooker teach; each refines what those ``before`` it taught.

    ``tables`` must cover the days of the recordings; a day without a table teaches of the food
    only.
    """
    knowledge = before or Knowledge()
    rng = np.random.default_rng(knowledge.cooks + len(recordings))
    for recording in recordings:
        log = CookLog(spec, recording.header.place, tables, foods)
        fill(log, recording)
        span = log.trace.span()
        situation = log.situation(span[1]) if span else None
        if situation is not None:
            knowledge = _refined(knowledge, log, situation, rng)
        gaps = [b[0] - a[0] for a, b in pairwise(log.aims)]
        knowledge = replace(
            knowledge,
            cooks=knowledge.cooks + 1,
            gaps_s=(*knowledge.gaps_s, *gaps)[-MOST_GAPS:],
            turned=knowledge.turned + bool(gaps),
        )
    return knowledge


def fill(log: CookLog, recording: Recording) -> None:
    """Put a whole recording into a log."""
    for row in recording.rows:
        for role, value in row.values.items():
            log.trace.add(role, unix_s(row.at), value)
        if row.event is not None:
            log.event(Event(recording.header.cooker, row.at, row.event, row.detail))


def _refined(
    knowledge: Knowledge, log: CookLog, situation: Situation, rng: np.random.Generator
) -> Knowledge:
    foods = dict(knowledge.foods)
    flow = np.zeros(len(situation.grid.times_s))
    for loaded in log.loads:
        case, rows = log.food_case(situation, loaded)
        before = food_belief(knowledge, loaded)
        found = before
        if np.isfinite(case.core_c).sum() >= 10:
            found, _ = posterior(before, food_misses(case, even=True), rng, MEMBERS, ROUNDS)
            size = load.by_mass(loaded.mass_kg, loaded.wet)
            foods[loaded.food] = ((found.mean - size).tolist(), found.cov.tolist())
            foods[KIN[loaded.wet]] = foods[loaded.food]
        _, _, taken = run_food(case, found.mean[None, :])
        flow[rows] = taken[:, 0] * load.heat_j_per_k(loaded.mass_kg, loaded.wet) / BIN_S
    balance = log.cooker_case(situation, flow, log.loads)
    prior = cooker_belief(knowledge, log.cooker)
    learnt = knowledge.cooker
    if balance.use.sum() >= 4:
        cook, _ = posterior(prior, cooker_misses(balance), rng, MEMBERS, ROUNDS)
        learnt = (cook.mean.tolist(), cook.cov.tolist())
    return replace(knowledge, cooker=learnt, foods=foods)
