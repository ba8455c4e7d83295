"""The table of foods, months and skies of one cooker: reckoned on all cores, kept for next time."""

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from noonpot.almanac import own_folder
from noonpot.core import load
from noonpot.core.dayahead import DayAhead, day_ahead
from noonpot.core.foods import Food, target_at
from noonpot.core.learning import Knowledge
from noonpot.core.moment import iso, utc
from noonpot.core.planning import Dish
from noonpot.core.recommendation import SKIES, Cell, cell_of
from noonpot.core.season import outcome
from noonpot.core.seasonwords import Basis
from noonpot.core.skykind import sky_named
from noonpot.core.station import CookerSpec, Place
from noonpot.core.water import boiling_point_c
from noonpot.suntable import SunTables

AIR_C = 20.0
FRIDGE_C = 5.0
"""Food that can make people ill comes from the refrigerator: FDA Food Code 3-501.16, 41 °F."""
MIDDLE = 15
MOST_WORKERS = 4
VERSION = 1
"""A change makes kept tables be reckoned anew."""


@dataclass(frozen=True)
class Season:
    """What a table is asked for: a cooker, what is known of it, its place, the foods, and the air
    of all days [°C].
    """

    spec: CookerSpec
    knowledge: Knowledge
    place: Place
    foods: Mapping[str, Food]
    air_c: float = AIR_C

    @property
    def basis(self) -> Basis:
        """What the table rests on."""
        masses = {name: load.MASS_KG[food.wet] for name, food in self.foods.items()}
        cautions = {name: food.caution for name, food in self.foods.items()}
        habit = self.knowledge.habit
        return Basis(self.knowledge.cooks, self.air_c, habit.every_s, masses, cautions)

    def dish(self, food: Food) -> Dish:
        """The usual amount of a food, as cold as it usually is."""
        boiling_c = boiling_point_c(self.place.elevation_m)
        start_c = min(FRIDGE_C, self.air_c) if food.hazardous else self.air_c
        return Dish(food, load.MASS_KG[food.wet], start_c, target_at(food, boiling_c), boiling_c)


def table(season: Season, sun: SunTables, year: int, skies: Sequence[str] = SKIES) -> list[Cell]:
    """All cells under these skies, from the person's folder or reckoned now: half a minute for each
    sky on one core of a desktop. Each food is kept when it is done, so that a table which was
    broken off goes on where it was.

    Raises SunTableError when the sun of a day cannot be had.
    """
    files = {sky: _file(season, year, sky) for sky in skies}
    found = {sky: _kept(file) for sky, file in files.items()}
    done = {(cell.sky, cell.food) for cells in found.values() for cell in cells}
    work = [(s, f) for s in skies for f in season.foods if (s, f) not in done]
    for cells in _reckoned(season, sun, year, work):
        sky = cells[0].sky
        found[sky] += cells
        _keep(files[sky], found[sky])
    order = {food: number for number, food in enumerate(season.foods)}
    return [c for sky in skies for c in sorted(found[sky], key=lambda c: (order[c.food], c.month))]


def _reckoned(
    season: Season, sun: SunTables, year: int, work: Sequence[tuple[str, str]]
) -> Iterator[list[Cell]]:
    """The year of each sky and food."""
    if not work:
        return
    days = [date(year, month, MIDDLE) for month in range(1, 13)]
    place = season.place
    aheads = [day_ahead(t, place) for t in sun.days(replace(place, horizon=()), days)]
    workers = min(os.cpu_count() or 1, MOST_WORKERS)
    # a fresh process each: nothing of this one, no thread and no open file, goes along
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(partial(_year, season, aheads), work)


def _year(season: Season, aheads: Sequence[DayAhead], work: tuple[str, str]) -> list[Cell]:
    sky, food = work
    spec, knowledge, air_c = season.spec, season.knowledge, season.air_c
    dish, kind = season.dish(season.foods[food]), sky_named(sky)
    every_s = knowledge.habit.every_s
    found = [outcome(spec, knowledge, dish, day, kind, air_c, every_s) for day in aheads]
    pairs = zip(aheads, found, strict=True)
    return [cell_of(food, month, sky, day, out) for month, (day, out) in enumerate(pairs, 1)]


def _file(season: Season, year: int, sky: str) -> Path | None:
    folder = own_folder(os.environ)
    if folder is None:
        return None
    key = hashlib.sha256(repr((VERSION, year, sky, season)).encode()).hexdigest()[:32]
    return folder / f"{key}.table"


def _kept(file: Path | None) -> list[Cell]:
    try:
        return [_cell(row) for row in json.loads(file.read_text(encoding="utf-8"))] if file else []
    except (OSError, ValueError, TypeError, KeyError):
        return []


def _keep(file: Path | None, cells: Sequence[Cell]) -> None:
    if file is None:
        return
    with suppress(OSError):
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = file.with_suffix(f".{os.getpid()}")
        draft.write_text(json.dumps([cell_json(cell) for cell in cells]), encoding="utf-8")
        draft.replace(file)


def cell_json(cell: Cell) -> dict[str, object]:
    """A cell for a machine."""
    return {
        "food": cell.food,
        "month": cell.month,
        "sky": cell.sky,
        "chance": round(cell.chance, 3),
        "takes_s": None if cell.takes_s is None else round(cell.takes_s),
        "load_at": _iso(cell.load_at),
        "latest_at": _iso(cell.latest_at),
        "verdict": cell.verdict,
    }


def season_json(season: Season, sky: str, cells: Sequence[Cell]) -> dict[str, object]:
    """The table under one sky for a machine, with what it rests on."""
    basis = season.basis
    return {
        "cooker": season.spec.name,
        "sky": sky,
        "cooks": basis.cooks,
        "air_c": basis.air_c,
        "turned_every_s": basis.every_s,
        "foods": [
            {"food": name, "mass_kg": kg, "caution": basis.cautions[name]}
            for name, kg in basis.masses_kg.items()
        ],
        "cells": [cell_json(cell) for cell in cells],
    }


def _cell(row: Mapping[str, str | float | None]) -> Cell:
    load_at, latest_at, takes_s = row["load_at"], row["latest_at"], row["takes_s"]
    return Cell(
        str(row["food"]),
        int(row["month"] or 0),
        str(row["sky"]),
        float(row["chance"] or 0.0),
        None if takes_s is None else float(takes_s),
        None if load_at is None else utc(str(load_at)),
        None if latest_at is None else utc(str(latest_at)),
    )


def _iso(at: datetime | None) -> str | None:
    return None if at is None else iso(at)
