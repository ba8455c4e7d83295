"""How long a forecast and a replay take: python tests/bench/forecast_cost.py

A simulated cook of nine hours under a broken sky, read every 2 s, of a load so large that it is
never done: every forecast has a whole afternoon to march through. How good forecasts are is another
matter (``forecast_bench.py``).
"""

import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import numpy as np

from bench.bare_ensemble import march
from bench.budgets import BLIND_FORECAST, FIRST_REPLAY, FORECAST, REPLAY, SLOW_REPLAY
from bench.figures import Figure, section, timed_figure
from bench.processes import Took, run, timed
from noonpot.core import futures
from noonpot.core.cook import Event
from noonpot.core.forecast import Forecaster
from noonpot.core.learning import learn
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, format_recording
from noonpot.engine.replayer import believed, station_of
from noonpot.settings.files import supplied
from noonpot.settings.foodlist import read_foods
from simday import HILL, JUNE, SimpleSun, at, event, record_day, turns

BEGUN, LOADED, OVER = at("07:00"), at("08:00"), at("16:00")
EVERY = timedelta(minutes=10)
USUAL_S, SLOW_S = 2.0, 60.0
REPLAYS = 2
ENSEMBLE = Path(__file__).with_name("bare_ensemble.py")
Shape = tuple[int, int]


def long_cook(step_s: float) -> Recording:
    """Four kilograms of bread, and a cooker turned every twenty minutes."""
    options = {"cookers": [{"name": "box"}], "sky": "broken", "seed": 3}
    load = event("box", "load", LOADED, food="bread", mass_kg=4, start_c=10)
    return record_day(options, [load, *turns("box", BEGUN, OVER)], BEGUN, OVER, step_s=step_s)


def without_light(recording: Recording) -> Recording:
    """The same cook at a station without a light sensor, which must guess the sky from the pot."""
    rows = [
        replace(row, values={r: v for r, v in row.values.items() if r is not Role.IRRADIANCE})
        for row in recording.rows
    ]
    return replace(recording, rows=[row for row in rows if row.values or row.event])


@contextmanager
def marches(shapes: list[Shape]) -> Iterator[None]:
    """Note the members and steps of every march of futures."""
    real = futures.run

    def noted(*given: object) -> object:
        path = real(*given)  # type: ignore[arg-type]
        shapes.append(path.cores.shape)
        return path

    futures.run = noted  # type: ignore[assignment]
    try:
        yield
    finally:
        futures.run = real


def forecasts(recording: Recording) -> tuple[list[Took], list[Took], list[Shape]]:
    """How long each forecast of the cook takes, how long a bare ensemble of as many members and
    steps beside it, and these.
    """
    spec, rng = station_of(recording).cookers[0], np.random.default_rng(1)
    foods = read_foods(supplied("foods.toml"))
    table = SimpleSun().day(HILL, JUNE)
    caster = Forecaster(spec, HILL, [table], learn([], spec, [], foods), foods)
    took, bare, due = [], [], LOADED + EVERY
    shapes: list[Shape] = []
    for row in believed(recording).rows:
        if row.at >= due:
            with marches(shapes):
                said = caster.forecast(due)
            assert said is not None
            assert said.curve, f"the load is done at {due}: this is no whole forecast"
            members, steps = shapes[-1]
            took.append(timed(partial(caster.forecast, due)))
            bare.append(timed(partial(march, members, steps, rng)))
            due += EVERY
        if row.event is not None:
            caster.event(Event(spec.name, row.at, row.event, row.detail))
        pot, core, air, light = (
            row.values.get(role) for role in (Role.POT, Role.CORE, Role.AMBIENT, Role.IRRADIANCE)
        )
        caster.observe(row.at, pot, core, air, light)
    return took, bare, shapes


def replays(folder: Path, recording: Recording, shapes: Sequence[Shape]) -> list[Figure]:
    """The command, when the sun of that day is known already and when it is not."""
    slow, cache = folder / "slow.csv", str(folder / "cache")
    slow.write_text(format_recording(long_cook(SLOW_S)))
    file = folder / "cook.csv"
    file.write_text(format_recording(recording))
    run(replay(slow), XDG_CACHE_HOME=cache)
    first, slowly, again, slow_bare, bare = [], [], [], [], []
    for number in range(REPLAYS):
        first.append(run(replay(slow), XDG_CACHE_HOME=str(folder / f"cache-{number}")))
        slowly.append(run(replay(slow), XDG_CACHE_HOME=cache))
        slow_bare.append(run(bare_replay(slow, shapes)))
        again.append(run(replay(file), XDG_CACHE_HOME=cache))
        bare.append(run(bare_replay(file, shapes)))
    rows = f"{len(recording.rows)} rows, {len(shapes)} forecasts"
    return [
        timed_figure(REPLAY, again, bare, rows),
        timed_figure(SLOW_REPLAY, slowly, slow_bare),
        timed_figure(FIRST_REPLAY, first, slow_bare),
    ]


def replay(file: Path) -> list[str | Path]:
    """What a person types."""
    return [sys.executable, "-m", "noonpot", "replay", file]


def bare_replay(file: Path, shapes: Sequence[Shape]) -> list[str | Path]:
    """The floor: as many bare ensembles, all of the middle size."""
    middle = sorted(shapes)[len(shapes) // 2]
    return [sys.executable, ENSEMBLE, file, *map(str, (len(shapes), *middle))]


def main() -> None:
    """Measure and print the table."""
    cook = long_cook(USUAL_S)
    took, bare, shapes = forecasts(cook)
    blind, blind_bare, blind_shapes = forecasts(without_light(cook))
    with tempfile.TemporaryDirectory() as folder:
        replayed = replays(Path(folder), cook, shapes)
    every = sorted(shapes + blind_shapes, key=lambda shape: shape[0] * shape[1])
    (fewest, short), (most, long) = every[0], every[-1]
    print(
        section(
            "The forecast",
            [
                timed_figure(FORECAST, took, bare),
                timed_figure(BLIND_FORECAST, blind, blind_bare),
                *replayed,
            ],
            "The cook is four kilograms of bread in a simulated box under a broken sky, which are "
            "never done: so every forecast is a whole one.",
            "Floor of a forecast: as many members marched through as many steps of a simple pot, "
            f"with NumPy alone (`tests/bench/bare_ensemble.py`); from {fewest} members by {short} "
            f"steps to {most} by {long}. Before a forecast marches, it finds members that explain "
            "the cook so far; the floor does not.",
            "Floor of a replay: a process that reads the same file and marches as many bare "
            "ensembles. It judges no row; ours passes each through filters, rules and alarms.",
        )
    )


if __name__ == "__main__":
    main()
