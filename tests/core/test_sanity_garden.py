"""Whole simulated cooks: with clouds, announced lids and turns nothing is wrong with any probe."""

import random
from datetime import timedelta

import pytest

from noonpot.core.cook import EventKind
from noonpot.core.readings import Reading, Role
from noonpot.core.recording import Recording
from noonpot.core.sanity import Sanity
from noonpot.core.sanity_signs import Food, Sign, SignKind
from simday import at, event, record_day, turns

BOILING_C = 94.7
BROKEN = [{"from": "06:00", "sky": "clear"}, {"from": "10:30", "sky": "broken"}]
LOADED = at("09:40")


def cook(kind: str, food: str, sky: object, *, lid_s: float, told: bool) -> Recording:
    """A cook with a lid lifted for some seconds an hour and a half after loading."""
    seed = random.randrange(10_000)
    print(f"seed {seed}")
    lid = event("box", "lid", LOADED + timedelta(minutes=90), duration_s=lid_s)
    script = [
        event("box", "load", LOADED, food=food, mass_kg=0.8, start_c=20),
        *turns("box", at("08:30"), at("13:00"), every_s=1800.0),
        lid,
    ]
    options = {"cookers": [{"name": "box", "kind": kind}], "sky": sky, "seed": seed}
    day = record_day(options, script, at("08:30"), at("13:00"), step_s=20.0)
    if told:
        return day
    return Recording(day.header, [row for row in day.rows if row.event is not EventKind.LID])


def signs(recording: Recording) -> list[Sign]:
    """Every sign that was ever seen, the first of each kind."""
    sanity, first = Sanity({role: role for role in Role}, BOILING_C), dict[SignKind, Sign]()
    food: Food | None = None
    for row in recording.rows:
        now_s = row.at.timestamp()
        if row.event is not None:
            food = Food(now_s, 0.8, 20.0) if row.event is EventKind.LOAD else food
            sanity.happen(row.event, now_s, food)
        for role, value in row.values.items():
            sanity.hear(Reading(role, row.at, now_s, value))
        sanity.look(now_s, sunny=True, dark=False, clear_wm2=800.0)
        for sign in sanity.signs:
            first.setdefault(sign.kind, sign)
    return list(first.values())


@pytest.mark.parametrize(
    ("kind", "food", "sky"),
    [("box", "bread", BROKEN), ("reflector", "stew", "broken"), ("reflector", "bread", "clear")],
)
def test_a_cook_under_clouds_with_turns_and_an_announced_lid_is_clean(
    kind: str, food: str, sky: object
) -> None:
    assert signs(cook(kind, food, sky, lid_s=120.0, told=True)) == []


def test_a_lid_that_nobody_announced_is_named_and_nothing_else() -> None:
    (sign,) = signs(cook("box", "bread", "clear", lid_s=120.0, told=False))
    assert sign.kind is SignKind.LID
    assert sign.from_c - sign.to_c >= 6.0


@pytest.mark.parametrize("kind", ["box", "reflector"])
def test_a_cooker_knocked_aside_without_a_word_is_noticed_by_a_sun_that_shines_on(
    kind: str,
) -> None:
    knocked = at("11:20")
    script = [
        event("box", "load", LOADED, food="bread", mass_kg=0.8, start_c=20),
        *turns("box", at("08:30"), knocked, every_s=1800.0),
        event("box", "aim", knocked, azimuth=300, elevation=20),
    ]
    seed = random.randrange(10_000)
    print(f"seed {seed}")
    options = {"cookers": [{"name": "box", "kind": kind}], "sky": "clear", "seed": seed}
    day = record_day(options, script, at("08:30"), at("13:00"), step_s=20.0)
    untold = [row for row in day.rows if row.event is None or row.at != knocked]
    (sign,) = signs(Recording(day.header, untold))
    assert sign.kind is SignKind.SUNLESS
    assert 0 < sign.since_s - knocked.timestamp() <= 2400.0
    assert sign.beside_c >= 400.0
