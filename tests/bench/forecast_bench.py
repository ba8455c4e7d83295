"""Does the forecast earn its place? Simulated cooks under measured skies, against simple rivals.

Run: python tests/bench/forecast_bench.py [--cache FOLDER] [--cooks N]
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.kitchen import Cooked
from bench.measured import measured_days
from bench.rivals import single_lag, straight_line
from bench.scenario import cooks
from noonpot.clock import SystemClock
from noonpot.core.cook import Event, EventKind
from noonpot.core.foods import Food
from noonpot.core.forecast import Forecaster
from noonpot.core.header import Header
from noonpot.core.learning import learn
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.station import CookerSpec

FOODS = {"bread": Food("bread", 94.0), "stew": Food("stew", 90.0, wet=True)}
Floats = NDArray[np.float64]
CLOCK = SystemClock()
FIRST_MIN, EVERY_MIN = 15, 10


def recording_of(cooked: Cooked) -> Recording:
    """What a station would have exported of this cook."""
    plan = cooked.plan
    rows: list[Row] = []
    begin = datetime.fromtimestamp(plan.day.start_s, UTC)

    def at(minute: int) -> datetime:
        return begin + timedelta(minutes=minute)

    for minute, azimuth, elevation in plan.aims:
        aim = {"azimuth": f"{azimuth}", "elevation": f"{elevation}"}
        rows.append(Row(at(minute), {}, EventKind.AIM, aim))
    rows += [Row(at(minute), {}, EventKind.LID, {}) for minute in plan.lids]
    load = {
        "food": plan.food,
        "mass_kg": f"{plan.mass_kg}",
        "start_c": f"{plan.start_c}",
        "target_c": f"{plan.target_c}",
    }
    rows.append(Row(at(plan.load_min), {}, EventKind.LOAD, load))
    columns = {
        Role.POT: cooked.pot_c,
        Role.CORE: cooked.core_c,
        Role.AMBIENT: cooked.ambient_c,
        Role.IRRADIANCE: cooked.irradiance,
    }
    for i in range(len(cooked.pot_c)):
        values = {role: float(c[i]) for role, c in columns.items() if np.isfinite(c[i])}
        if values:
            rows.append(Row(at(plan.start_min + i), values))
    rows.sort(key=lambda r: r.at)
    header = Header(plan.day.place, plan.make.name, None, plan.make.acceptance_said)
    return Recording(header, rows)


@dataclass(frozen=True, slots=True)
class Asked:
    """One forecast beside the truth. Minutes from the time of asking; None: not reached."""

    cooker: str
    food: str
    day: str
    clear: bool
    sensor: bool
    history: int
    asked_min: int
    since_load: int
    truth: float | None
    left: float
    p_done: float
    p10: float | None
    p50: float | None
    p90: float | None
    line: float | None
    lag: float | None
    seconds: float


def _ask(job: tuple[Cooked, list[Cooked]]) -> tuple[list[Asked], float]:
    cooked, past = job
    plan = cooked.plan
    spec = CookerSpec(plan.make.name, 0.25, plan.make.acceptance_said)
    tables = [c.plan.day.table for c in past]
    begun = CLOCK.moment().mono_s
    knowledge = learn([recording_of(c) for c in past], spec, tables, FOODS)
    learning_s = CLOCK.moment().mono_s - begun
    caster = Forecaster(spec, plan.day.place, [plan.day.table], knowledge, FOODS)
    recording = recording_of(cooked)
    out: list[Asked] = []
    done = cooked.done_min if cooked.done_min is not None else float("inf")
    asked = plan.load_min + FIRST_MIN
    rows = list(recording.rows)
    used = 0
    while asked < min(done, plan.end_min):
        now = datetime.fromtimestamp(plan.day.start_s + 60 * asked, UTC)
        while used < len(rows) and rows[used].at <= now:
            feed(caster, rows[used])
            used += 1
        begun = CLOCK.moment().mono_s
        said = caster.forecast(now)
        took = CLOCK.moment().mono_s - begun
        assert said is not None
        n = asked - plan.start_min + 1
        clock: Floats = 60.0 * np.arange(n, dtype=np.float64)
        line = straight_line(clock, cooked.core_c[:n], plan.target_c)
        since = plan.load_min - plan.start_min
        lag = single_lag(
            clock[since:], cooked.core_c[since:n], cooked.pot_c[since:n], plan.target_c
        )
        out.append(
            Asked(
                cooker=plan.make.name,
                food=plan.food,
                day=plan.day.name,
                clear=plan.day.clear,
                sensor=plan.sensor,
                history=len(past),
                asked_min=asked,
                since_load=asked - plan.load_min,
                truth=None if cooked.done_min is None else done - asked,
                left=plan.end_min - asked,
                p_done=said.p_done,
                p10=_minutes(said.done_p10, now),
                p50=_minutes(said.done_p50, now),
                p90=_minutes(said.done_p90, now),
                line=None if line is None else line / 60,
                lag=None if lag is None else lag / 60,
                seconds=took,
            )
        )
        asked += EVERY_MIN
    return out, learning_s


def _minutes(at: datetime | None, now: datetime) -> float | None:
    return None if at is None else (at - now).total_seconds() / 60


def feed(caster: Forecaster, row: Row) -> None:
    """One row of a recording into a forecaster."""
    if row.event is not None:
        caster.event(Event("bench", row.at, row.event, row.detail))
        return
    get = row.values.get
    caster.observe(row.at, get(Role.POT), get(Role.CORE), get(Role.AMBIENT), get(Role.IRRADIANCE))


def jobs(all_cooks: Sequence[Cooked]) -> list[tuple[Cooked, list[Cooked]]]:
    """On clear days every cook is asked about, on others every second that ends well and every
    fourth that does not; history are three other days of the same cooker, or none."""
    chosen = []
    for i, cooked in enumerate(all_cooks):
        plan = cooked.plan
        dull = cooked.done_min is None
        if not plan.day.clear and (i // 2 + i) % (4 if dull else 2):
            continue
        rng = np.random.default_rng(plan.seed)
        others = [c for c in all_cooks if c.plan.make is plan.make and c.plan.day is not plan.day]
        same = [c for c in others if c.plan.food == plan.food]
        count = int(rng.choice([0, 2, 3, 4], p=[0.15, 0.25, 0.35, 0.25]))
        past = [same[k] for k in rng.choice(len(same), min(count, 2), replace=False)]
        past += [others[k] for k in rng.choice(len(others), max(count - 2, 0), replace=False)]
        past.sort(key=lambda c: c.plan.day.start_s)
        chosen.append((cooked, past))
    return chosen


def _miss(said: float | None, ask: Asked) -> float:
    """Error in minutes; who says nothing, or a time after the sun, is taken to say: at sundown."""
    assert ask.truth is not None
    value = ask.left if said is None else min(said, ask.left)
    return abs(value - ask.truth)


def table(asks: Sequence[Asked], name: str) -> str:
    """One line of results."""
    done = [a for a in asks if a.truth is not None]
    outcome = np.array([a.truth is not None for a in asks], float)
    p = np.array([a.p_done for a in asks])
    brier = float(np.mean((p - outcome) ** 2))
    base = float(outcome.mean() * (1 - outcome.mean()))
    if not done:
        return f"{name:26s} {len(asks):5d}     0  brier {brier:.3f} (climate {base:.3f})"
    ours, line, lag = (
        np.array([_miss(getattr(a, k), a) for a in done]) for k in ("p50", "line", "lag")
    )
    inside = [
        a.p10 is not None and a.p10 <= a.truth <= (a.p90 or 0) for a in done if a.truth is not None
    ]
    width = [(a.p90 or 0) - (a.p10 or 0) for a in done if a.p10 is not None]

    def q(x: Sequence[float] | Floats, share: float) -> float:
        return float(np.quantile(x, share))

    return (
        f"{name:26s} {len(asks):5d} {len(done):5d} | {q(ours, 0.5):6.1f} {q(ours, 0.8):6.1f} | "
        f"{q(line, 0.5):6.1f} {q(line, 0.8):6.1f} | {q(lag, 0.5):6.1f} {q(lag, 0.8):6.1f} | "
        f"{q(ours, 0.5) / q(line, 0.5):5.2f} {q(ours, 0.8) / q(line, 0.8):5.2f} | "
        f"{100 * np.mean(inside):4.0f} {q(width, 0.5):5.0f} | {brier:.3f} {base:.3f}"
    )


HEAD = (
    f"{'':26s} {'asked':>5s} {'done':>5s} | {'ours50':>6s} {'80%':>6s} | "
    f"{'line50':>6s} {'80%':>6s} | "
    f"{'lag50':>6s} {'80%':>6s} | ratio   80% | cov% width | brier climate"
)


def report(asks: Sequence[Asked]) -> str:
    """All lines of results."""
    lines = [HEAD, table(asks, "all days")]

    def pick(name: str, chosen: Sequence[Asked]) -> None:
        if chosen:
            lines.append(table(chosen, name))

    def both(name: str, chosen: Sequence[Asked]) -> None:
        pick(name, chosen)
        pick(f"{name}, clear", [a for a in chosen if a.clear])

    pick("clear days", [a for a in asks if a.clear])
    pick("other days", [a for a in asks if not a.clear])
    for cooker in sorted({a.cooker for a in asks}):
        both(cooker, [a for a in asks if a.cooker == cooker])
    for food in ("bread", "stew"):
        both(food, [a for a in asks if a.food == food])
    both("with sensor", [a for a in asks if a.sensor])
    both("without sensor", [a for a in asks if not a.sensor])
    pick("no history", [a for a in asks if a.history == 0])
    pick("with history", [a for a in asks if a.history > 0])
    both("last hour", [a for a in asks if a.truth is not None and a.truth <= 60])
    pick("more than an hour before", [a for a in asks if a.truth is None or a.truth > 60])
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, default=Path.home() / ".cache" / "noonpot-bench")
    parser.add_argument("--cooks", type=int, default=0, help="only so many cooks")
    parser.add_argument("--workers", type=int, default=1)
    args = parser.parse_args()
    todo = jobs(cooks(measured_days(args.cache)))
    if args.cooks:
        todo = todo[:: max(len(todo) // args.cooks, 1)]
    begun = CLOCK.moment().mono_s
    if args.workers > 1:
        with ProcessPoolExecutor(args.workers) as pool:
            results = list(pool.map(_ask, todo))
    else:
        results = [_ask(job) for job in todo]
    asks = [a for r, _ in results for a in r]
    took = np.array([a.seconds for a in asks]) * 1000
    print(report(asks))
    print(f"{len(todo)} cooks, {len(asks)} forecasts, {CLOCK.moment().mono_s - begun:.0f} s")
    print(f"a forecast: median {np.median(took):.0f} ms, longest {took.max():.0f} ms; "
          f"learning {np.mean([s for _, s in results]):.2f} s a cook")  # fmt: skip


if __name__ == "__main__":
    main()
