"""Which cooks of the mirror kitchen are asked about: 16 owners, each with two kinds of days."""

from collections.abc import Sequence

import numpy as np

from bench.measured import MeasuredDay
from bench.mirror_kitchen.collectors import traced
from bench.mirror_kitchen.cookers import KINDS, owner
from bench.mirror_kitchen.plans import LOADING_MIN, Plan, plan
from bench.mirror_kitchen.probes import trial
from bench.mirror_kitchen.simulation import simulate
from bench.trial import Exam

SEED = 20240
OWNERS = 16
LIKELIER = {"09": 3.0, "05": 3.0, "07": 3.0, "15": 3.0, "01": 2.0, "04": 2.0, "02": 0.5, "13": 0.5}
"""Days of broken cloud, on which cooks may end either way, over dull ones (of June at Payerne)."""


def exams(days: Sequence[MeasuredDay]) -> list[Exam]:
    """Every owner cooks on two clear days or three, and on two others, and is asked about these;
    three more cooks of each can only be learned from. Learned from are none to four cooks of other
    days.
    """
    rng = np.random.default_rng(SEED)
    plans, asked = _plans(rng, days)
    felt = simulate(plans, traced())
    trials = [trial(p, felt, i) for i, p in enumerate(plans)]
    chosen = []
    for i in asked:
        mine = plans[i]
        others = [k for k, p in enumerate(plans) if p.owner is mine.owner and p.day is not mine.day]
        count = int(rng.choice([0, 1, 2, 3, 4], p=[0.2, 0.15, 0.25, 0.2, 0.2]))
        past = sorted(rng.choice(others, count, replace=False), key=lambda k: plans[k].day.start_s)
        chosen.append(Exam(trials[i], tuple(trials[k] for k in past)))
    return chosen


def _plans(rng: np.random.Generator, days: Sequence[MeasuredDay]) -> tuple[list[Plan], list[int]]:
    """All cooks, and the numbers of those that are asked about."""
    named = {day.name: day for day in days}
    dull = [name for name in named if name not in LOADING_MIN]
    weight = np.array([LIKELIER.get(name[-2:], 1.0) for name in dull])
    plans: list[Plan] = []
    asked: list[int] = []
    for number in range(OWNERS):
        own = owner(rng, number)
        clear = [str(name) for name in rng.permutation(list(LOADING_MIN))]
        third = [str(rng.choice(clear[2:]))] if number % 4 == number // len(KINDS) else []
        others = [str(x) for x in rng.choice(dull, 4, replace=False, p=weight / weight.sum())]
        turn = number + number // 2
        for k, name in enumerate([*clear[:2], *third, *others[:2]]):
            asked.append(len(plans))
            plans.append(plan(rng, own, named[name], wet=(turn + k) % 2 == 1))
        for k, name in enumerate([*others[2:], clear[3]]):
            plans.append(plan(rng, own, named[name], wet=(number + k) % 2 == 1))
    return plans, asked
