"""``noonpot cook``: tell the daemon what you do at a cooker."""

import json
import threading
from pathlib import Path
from typing import Annotated

import typer

from noonpot.app import machine
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption, JsonOption
from noonpot.core.cook import Event, EventKind
from noonpot.core.detail import parse_detail
from noonpot.core.foods import food_named, target_at
from noonpot.core.localtime import clock_time, coming
from noonpot.core.moment import iso
from noonpot.core.names import meant
from noonpot.core.orders import SPOT_C
from noonpot.core.stationfacts import OWN
from noonpot.core.water import boiling_point_c
from noonpot.core.wording import Wording
from noonpot.errors import CookError
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.inbox import hand_in, refusal
from noonpot.store.reader import Reader

app = typer.Typer(no_args_is_help=True, help="Tell the daemon what you do at a cooker.")

CookerArgument = Annotated[str, typer.Argument(help="Name of the cooker.")]
FoodOption = Annotated[str | None, typer.Option(help="What is cooked, a name of the food table.")]
TargetOption = Annotated[float | None, typer.Option(help="Core temperature that means done, °C.")]
MealOption = Annotated[
    str | None, typer.Option(help="When it shall be eaten, such as 18:00, by the station's clock.")
]
MARKS = (
    EventKind.AIM,
    EventKind.LID,
    EventKind.NOTE,
    EventKind.UNLOAD,
    EventKind.ACKNOWLEDGE,
    EventKind.SHELVE,
)
ANSWER_S = 5.0
LOOK_S = 0.1


@app.command()
def start(
    cooker: CookerArgument,
    food: FoodOption = None,
    target_c: TargetOption = None,
    meal: MealOption = None,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Begin a cook: the cooker stands in the sun."""
    settings = load(config, secrets=False)
    detail = _of_food(settings, food, target_c) | _of_meal(settings, meal)
    tell(settings, cooker, EventKind.START, detail)


@app.command(name="load")
def load_(
    cooker: CookerArgument,
    mass_kg: Annotated[float | None, typer.Option(help="How much food, kg.")] = None,
    start_c: Annotated[float | None, typer.Option(help="Its temperature now, °C.")] = None,
    food: FoodOption = None,
    target_c: TargetOption = None,
    meal: MealOption = None,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Put the food in."""
    settings = load(config, secrets=False)
    detail = _of_food(settings, food, target_c) | _of_meal(settings, meal)
    if mass_kg is not None:
        if not 0 < mass_kg <= 50:
            raise CookError(f"--mass-kg is {mass_kg:g}, but must be above 0 and at most 50 kg")
        detail["mass_kg"] = f"{mass_kg:g}"
    if start_c is not None:
        detail["start_c"] = f"{_temperature('--start-c', start_c):g}"
    tell(settings, cooker, EventKind.LOAD, detail)


@app.command()
def mark(
    cooker: CookerArgument,
    what: Annotated[str, typer.Argument(help=", ".join(MARKS))],
    detail: Annotated[list[str] | None, typer.Argument(help="key=value …, or words")] = None,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Note what you did or saw.

    aim azimuth=… elevation=… | lid | note … | unload | acknowledge alarm=… | shelve alarm=…
    """
    if what not in MARKS:
        raise CookError(f"{what!r} cannot be marked; {meant(what, MARKS)}")
    try:
        told = parse_detail(" ".join(detail or []))
    except ValueError as error:
        raise CookError(str(error)) from None
    tell(load(config, secrets=False), cooker, EventKind(what), told)


@app.command()
def spot(
    cooker: CookerArgument,
    core_c: Annotated[float, typer.Argument(help="What the hand-held thermometer shows, °C.")],
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Enter a reading of a hand-held thermometer."""
    detail = {"core_c": f"{_temperature('the reading', core_c, SPOT_C):g}"}
    tell(load(config, secrets=False), cooker, EventKind.SPOT, detail)


@app.command()
def stop(cooker: CookerArgument, config: ConfigOption = DEFAULT_CONFIG) -> None:
    """End the cook: all is taken out, nothing is watched any more."""
    tell(load(config, secrets=False), cooker, EventKind.STOP, {})


@app.command(name="list")
def list_(config: ConfigOption = DEFAULT_CONFIG, as_json: JsonOption = False) -> None:
    """All cooks, the running ones too."""
    settings = load(config, secrets=False)
    reader = Reader(settings.data / machine.DATA_FILE, machine.system_clock())
    for cook in reader.cooks():
        stopped = iso(cook.stopped_at) if cook.stopped_at else None
        if as_json:
            body = {
                "cook": cook.id,
                "cooker": cook.cooker,
                "food": cook.food or None,
                "started": iso(cook.started_at),
                "stopped": stopped,
            }
            print(json.dumps(body, ensure_ascii=False))
        else:
            end = stopped or "running"
            print(f"{cook.id:>4}  {iso(cook.started_at)}  {end:20}  {cook.cooker}  {cook.food}")


def _of_food(settings: Settings, food: str | None, target_c: float | None) -> dict[str, str]:
    """The detail that names food and target; says what the elevation makes of it."""
    detail: dict[str, str] = {}
    if target_c is not None:
        detail["target_c"] = f"{_temperature('--target-c', target_c):g}"
    if food is not None:
        known = food_named(settings.foods, food)
        detail["food"] = known.name
        boiling_c = boiling_point_c(settings.station.place.elevation_m)
        target = target_at(known, boiling_c, Wording(settings.units).temperature)
        for words in (target.words if target_c is None else "", known.caution):
            if words:
                print(words)
    return detail


def _of_meal(settings: Settings, meal: str | None) -> dict[str, str]:
    """The detail that tells the meal; says which day is meant."""
    if meal is None:
        return {}
    clock, now = clock_time("--meal", meal), machine.system_clock().moment()
    if not now.trusted:
        raise CookError(
            "--meal is a time of day, but the clock of this computer is not set; set it, or wait "
            "for the network, or begin the cook without --meal"
        )
    at = coming(now.at, clock, settings.timezone)
    print(f"The meal is on {at:%A} at {at:%H:%M}, {settings.timezone} time.")
    return {"meal": iso(at)}


def _temperature(name: str, temp_c: float, bounds: tuple[int, int] = (-40, 400)) -> float:
    low, high = bounds
    if not low <= temp_c <= high:
        raise CookError(f"{name} is {temp_c:g} °C, but must be {low} to {high} °C")
    return temp_c


def tell(settings: Settings, cooker: str, kind: EventKind, detail: dict[str, str]) -> None:
    """Hand the event in and wait for what the daemon says of it."""
    names = [spec.name for spec in settings.station.cookers]
    if kind in (EventKind.ACKNOWLEDGE, EventKind.SHELVE, EventKind.CALIBRATE):
        names.append(OWN)
    if cooker not in names:
        raise CookError(f"there is no cooker {cooker!r}; {meant(cooker, names)}")
    clock = machine.system_clock()
    folder = settings.data / "inbox"
    letter = hand_in(folder, Event(cooker, clock.moment().at, kind, detail), clock=clock)
    if _answered(folder / f"{letter}.json"):
        reason = refusal(folder, letter)
        if reason is not None:
            raise CookError(reason)
        print(f"{cooker}: {kind} noted")
    else:
        print(f"{cooker}: {kind} handed in; no daemon has taken it yet, is 'noonpot run' running?")


def _answered(path: Path) -> bool:
    """Whether the daemon took the letter in time."""
    clock, never = machine.system_clock(), threading.Event()
    end_s = clock.moment().mono_s + ANSWER_S
    while path.exists():
        if clock.moment().mono_s > end_s:
            return False
        clock.wait(never, LOOK_S)
    return True
