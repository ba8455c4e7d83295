"""What holds for every forecast, whatever the sky, the load, the cooker and the recording."""

import json
import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cooks import FOODS, TABLES, recorded
from noonpot.app.replaying import lines
from noonpot.core import cooker, futures, light, load
from noonpot.core.belief import Belief
from noonpot.core.cook import Event, EventKind
from noonpot.core.forecast import Forecast, Forecaster
from noonpot.core.learning import Knowledge, learn
from noonpot.core.moment import utc
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row, format_recording
from noonpot.core.station import CookerSpec
from noonpot.core.sun import DayTable
from simday import at, event, record_day, turns
from skies import DAY, EQUATOR, geometric_table, hour

Floats = NDArray[np.float64]
Cook = Callable[[datetime], Recording]

SPEC = CookerSpec("box", 0.25, 30.0)
N = 50
TARGET_C, BOILING_C, AIR_C = 85.0, 98.0, 22.0
STEPS_S = futures.time_steps(7 * 3600.0)
MIDDLES_S = hour(10).timestamp() + np.cumsum(STEPS_S) - STEPS_S / 2
SKY = light.clear_sky(TABLES, (), MIDDLES_S)


class Kitchen(NamedTuple):
    """N pairs of a cooker and a food that nobody has seen before, and what they begin with."""

    kettle: cooker.Cooker
    makes: Floats
    wet: bool | None
    pot_c: float
    core_c: float

    def begin(self, mass_kg: float) -> futures.Start:
        no = np.zeros(N)
        return futures.Start(
            kettle=self.kettle,
            food=load.FoodConstants.of(self.makes + load.by_mass(mass_kg, self.wet)),
            stages=load.start(no + self.core_c),
            pot_c=no + self.pot_c,
            wall_c=no + self.pot_c - 15.0,
            push=no,
            pace=no,
            load_share=load.heat_j_per_k(mass_kg, self.wet) / self.kettle.capacity,
        )

    def useful(self, index: Floats, misaim_deg: Floats) -> Floats:
        acceptance, view = self.kettle.acceptance[:, None], self.kettle.diffuse[:, None]
        return light.on_aperture(index, SKY, misaim_deg, acceptance, view)


def kitchen(seed: int, wet: bool | None, pot_c: float, core_c: float) -> Kitchen:
    rng = np.random.default_rng(seed)
    boxes = Belief.of(*cooker.prior(0.25, 30.0)).draw(N, rng)
    makes = Belief.of(*load.prior(wet)).draw(N, rng)
    return Kitchen(cooker.Cooker.of(boxes), makes, wet, pot_c, core_c)


kitchens = st.builds(
    kitchen,
    st.integers(0, 2**32 - 1),
    st.sampled_from([True, False, None]),
    st.floats(20, 120),
    st.floats(2, 40),
)
masses = st.floats(0.2, 3.0)


def wave(low: float, high: float) -> st.SearchStrategy[Floats]:
    """A value for each step, between four that are drawn."""
    corners = np.linspace(0, len(STEPS_S) - 1, 4)
    levels = st.lists(st.floats(low, high), min_size=4, max_size=4)
    return levels.map(lambda drawn: np.interp(np.arange(len(STEPS_S)), corners, drawn))


def reached(begin: futures.Start, useful: Floats) -> Floats:
    path = futures.run(begin, useful, STEPS_S, AIR_C, BOILING_C, TARGET_C)
    assert np.isfinite(path.cores).all()
    return path.reached_s


def never_later(this_s: Floats, that_s: Floats) -> bool:
    """Whether no member of the first ends later than the same one of the second; to a second."""
    return bool((this_s <= that_s + 1.0).all())


skies, misaims = wave(0.12, 1.1), wave(0, 120)


@settings(max_examples=30)
@given(kitchens, masses, skies, misaims, wave(0, 1))
def test_on_one_sky_a_smaller_misaim_never_delays_the_end(
    made: Kitchen, mass_kg: float, index: Floats, misaim: Floats, part: Floats
) -> None:
    begin = made.begin(mass_kg)
    beside, turned = (reached(begin, made.useful(index, x)) for x in (misaim, part * misaim))
    assert never_later(turned, beside)


FLAT = np.ones(len(STEPS_S))


@settings(max_examples=30)
@given(kitchens, masses, skies, wave(0, 30), wave(0, 0.5))
@example(kitchen(1, False, 80.0, 20.0), 0.8, 0.75 * FLAT, 5 * FLAT, 0.05 * FLAT)
@example(kitchen(1, False, 80.0, 20.0), 0.8, 0.9 * FLAT, 5 * FLAT, 0.1 * FLAT)
@example(kitchen(1, True, 80.0, 20.0), 1.0, 1.02 * FLAT, 5 * FLAT, 0.08 * FLAT)
def test_a_clearer_sky_never_delays_a_cooker_that_lives_by_the_beam(
    made: Kitchen, mass_kg: float, index: Floats, misaim: Floats, more: Floats
) -> None:
    """Where the beam counts no less than the diffuse light. One that is turned far away can lose by
    a clearer sky: white clouds light it better than a blue sky."""
    begin = made.begin(mass_kg)
    gain = light.aim_gain(misaim, made.kettle.acceptance[:, None])
    by_beam = (gain >= made.kettle.diffuse[:, None]).all(axis=1)
    dull, clear = (reached(begin, made.useful(x, misaim)) for x in (index, index + more))
    assert never_later(clear[by_beam], dull[by_beam])


@settings(max_examples=30)
@given(kitchens, masses, wave(0, 900), wave(0, 500))
def test_more_light_on_the_aperture_never_delays_the_end(
    made: Kitchen, mass_kg: float, useful: Floats, more: Floats
) -> None:
    begin, everyone = made.begin(mass_kg), np.ones((N, 1))
    less, much = (reached(begin, everyone * x) for x in (useful, useful + more))
    assert never_later(much, less)


@settings(max_examples=30)
@given(kitchens, masses, st.floats(1.0, 3.0), skies, misaims)
def test_on_one_sky_a_heavier_load_never_hastens_the_end(
    made: Kitchen, mass_kg: float, more: float, index: Floats, misaim: Floats
) -> None:
    useful = made.useful(index, misaim)
    light_s, heavy_s = (reached(made.begin(m), useful) for m in (mass_kg, mass_kg * more))
    assert never_later(light_s, heavy_s)


def test_those_properties_are_asked_of_cooks_that_differ() -> None:
    """Some end, some do not, and a little light or mass makes a difference."""
    made = kitchen(1, False, 80.0, 20.0)
    usual = reached(made.begin(0.8), made.useful(0 * MIDDLES_S + 0.75, 0 * MIDDLES_S))
    clear = reached(made.begin(0.8), made.useful(0 * MIDDLES_S + 0.85, 0 * MIDDLES_S))
    heavy = reached(made.begin(1.0), made.useful(0 * MIDDLES_S + 0.75, 0 * MIDDLES_S))
    ended = np.isfinite(usual)
    assert 5 < ended.sum() < N - 5
    assert (clear[ended] < usual[ended] - 60).all()
    assert (heavy[ended] > usual[ended] + 60).all()


def check(said: Forecast) -> None:
    """All that a forecast promises of its numbers."""
    assert 0.0 <= said.p_done <= 1.0
    times = [said.done_p10, said.done_p50, said.done_p90]
    known = [t for t in times if t is not None]
    if said.p_done < 0.01:
        assert not known
    else:
        assert len(known) == 3
        assert known == sorted(known)
        is_done = said.p_done == 1.0 and known[0] == known[2] and not said.curve
        assert is_done or known[0] >= said.at
        assert not is_done or known[0] <= said.at
    assert math.isfinite(said.target_c)
    assert said.clear_sky_index is None or 0.0 <= said.clear_sky_index <= 1.4
    assert said.misaim_deg is None or 0.0 <= said.misaim_deg <= 180.0
    assert said.turn_saves_s is None or math.isfinite(said.turn_saves_s)
    for point in said.curve:
        band = (point.core_p10, point.core_p50, point.core_p90)
        assert all(math.isfinite(core_c) and core_c < 100.5 for core_c in band)
        assert band == tuple(sorted(band))
    assert all(a.at < b.at for a, b in pairwise(said.curve))
    assert not any("nan" in words or "inf " in words for words in said.reasons)


@pytest.fixture(scope="module")
def taught() -> Knowledge:
    return learn([recorded(seed=5)], SPEC, TABLES, FOODS)


readings = st.none() | st.floats(-60, 300) | st.sampled_from([1e9, -1e9, 0.0, math.nan, math.inf])
gaps_s = st.sampled_from([0.0, 0.0, 5.0, 60.0, 60.0, 1800.0]) | st.floats(0, 9000)
numbers = st.sampled_from(["-40", "0", "0.0001", "24", "0.7", "96", "400", "1e300"])
happenings = st.none() | st.one_of(
    st.fixed_dictionaries(
        {},
        optional={
            "food": st.sampled_from(["bread", "Stew", "slate", ""]),
            "mass_kg": numbers,
            "start_c": numbers,
            "target_c": numbers,
        },
    ).map(lambda detail: (EventKind.LOAD, detail)),
    st.tuples(numbers, numbers).map(
        lambda xy: (EventKind.AIM, {"azimuth": xy[0], "elevation": xy[1]})
    ),
    numbers.map(lambda x: (EventKind.SPOT, {"core_c": x})),
    st.sampled_from(
        [EventKind.UNLOAD, EventKind.LID, EventKind.STOP, EventKind.START, EventKind.NOTE]
    ).map(lambda kind: (kind, {})),
)
Written = tuple[float, tuple[float | None, ...], tuple[EventKind, dict[str, str]] | None]
rows = st.tuples(gaps_s, st.tuples(readings, readings, readings, readings), happenings)
LOADING: Written = (60.0, (80.0, 20.0, 20.0, 700.0), (EventKind.LOAD, {"food": "bread"}))
WARMING: Written = (600.0, (85.0, 30.0, 20.0, 800.0), None)


@settings(max_examples=25)
@given(st.lists(rows, max_size=40), st.floats(5, 18), st.floats(0, 7200), st.booleans())
@example([LOADING, (0.0, (None, None, 1e9, None), None)], 9.0, 60.0, False)
@example([LOADING, (60.0, (-1e9, -1e9, -1e9, -1e9), None), WARMING], 9.0, 60.0, True)
@example([WARMING, WARMING, LOADING, *[WARMING] * 6], 11.0, 0.0, True)
def test_no_recording_whatever_makes_it_say_nonsense(
    taught: Knowledge, written: Sequence[Written], begin_h: float, later_s: float, known: bool
) -> None:
    caster = Forecaster(SPEC, EQUATOR, TABLES, taught if known else Knowledge(), FOODS)
    now, middle = hour(begin_h), len(written) // 2
    for i, (gap_s, values, happened) in enumerate(written):
        now += timedelta(seconds=gap_s)
        if happened is not None:
            caster.event(Event("box", now, *happened))
        caster.observe(now, *values)
        if i == middle and (said := caster.forecast(now)) is not None:
            check(said)
    said = caster.forecast(now + timedelta(seconds=later_s))
    if said is not None:
        check(said)


def test_usual_cooks_are_told_of_within_the_same_bounds(taught: Knowledge) -> None:
    kinds = set()  # whether it hardly ends, surely ends, and has no curve any more
    for recording in (recorded(), recorded("stew", index=0.55, sensor=False, load_h=11.0)):
        for now in (hour(h) for h in (9.1, 11.1, 12.0, 15.0, 17.5, 18.2)):
            said = heard(recording, TABLES, taught).forecast(now)
            if said is not None:
                check(said)
                assert all(point.core_p10 > 20.0 for point in said.curve)
                kinds.add((said.p_done < 0.01, said.p_done == 1.0, said.curve == ()))
    open_still, done, hopeless = (False, False, False), (False, True, True), (True, False, False)
    assert kinds >= {open_still, done, hopeless}


def heard(
    recording: Recording,
    tables: Sequence[DayTable],
    knowledge: Knowledge,
) -> Forecaster:
    """A forecaster that was told a whole recording."""
    caster = Forecaster(SPEC, EQUATOR, tables, knowledge, FOODS)
    for row in recording.rows:
        if row.event is not None:
            caster.event(Event("box", row.at, row.event, row.detail))
        values = [row.values.get(role) for role in Role]
        caster.observe(row.at, *values)
    return caster


def minutes(said: Forecast | None) -> list[float]:
    """The quantiles in minutes from its time."""
    assert said is not None
    times = (said.done_p10, said.done_p50, said.done_p90)
    return [(t - said.at).total_seconds() / 60 for t in times if t is not None]


@pytest.mark.parametrize("days", [1, 200])
@pytest.mark.parametrize("hours", [9.5, 10.5, 16.0])
def test_the_same_cook_on_another_day_under_the_same_sun_is_told_the_same(
    taught: Knowledge, days: int, hours: float
) -> None:
    """But for chance, which depends on the time: two hundred members leave an end open by a fifth
    of the way to it. What is done is done at the same minute."""
    today, shift = recorded(), timedelta(days=days)
    rows = [Row(r.at + shift, r.values, r.event, r.detail) for r in today.rows]
    other_tables = [geometric_table(day=DAY + shift)]
    first = heard(today, TABLES, taught).forecast(hour(hours))
    other = heard(Recording(today.header, rows), other_tables, taught).forecast(hour(hours) + shift)
    assert first is not None
    assert other is not None
    open_to_chance = 0.0 if first.done_p50 == first.done_p90 else 0.2
    assert minutes(other) == pytest.approx(minutes(first), rel=open_to_chance, abs=0.02)
    assert other.p_done == pytest.approx(first.p_done, abs=open_to_chance / 4)


BEGUN = at("08:00")
BEFORE = BEGUN - timedelta(days=1)


def garden_day(sky: str, seed: int, script: Sequence[Event], begun: datetime) -> Recording:
    options = {"cookers": [{"name": "box"}], "sky": sky, "seed": seed}
    ended = begun + timedelta(minutes=170)
    return record_day(options, [*script, *turns("box", begun, ended, 2400.0)], begun, ended)


def a_loaf(begun: datetime) -> Recording:
    loaded = begun + timedelta(minutes=50)
    script = [event("box", "load", loaded, food="bread", mass_kg=0.6, start_c=25)]
    return garden_day("clear", 3, script, begun)


def two_loads(begun: datetime) -> Recording:
    """Broken cloud, a look into the pot, a silence, a second load, a reading by hand."""
    stew, lid, silent, back, out, bread, spot = (
        begun + timedelta(minutes=m) for m in (40, 75, 90, 102, 120, 122, 140)
    )
    script = [
        event("box", "load", stew, food="stew", mass_kg=1.1, start_c=18),
        event("box", "lid", lid),
        event("box", "unload", out),
        event("box", "load", bread, food="bread", mass_kg=0.5),
    ]
    day = garden_day("broken", 7, script, begun)
    kept = [row for row in day.rows if row.event or not silent < row.at < back]
    kept.append(Row(spot, {}, EventKind.SPOT, {"core_c": "31.5"}))
    return Recording(day.header, sorted(kept, key=lambda row: row.at))


def at_another_pace(begun: datetime) -> Recording:
    """A logger that is set from one row in ten minutes to one a minute."""
    loaf, slow = a_loaf(begun), begun + timedelta(minutes=90)
    kept = [row for row in loaf.rows if row.event or row.at > slow or row.at.minute % 10 == 0]
    return Recording(loaf.header, kept)


def written_down(folder: Path, name: str, recording: Recording) -> Path:
    file = folder / f"{name}.csv"
    file.write_text(format_recording(recording), encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("cook", "minute", "past"),
    [
        (a_loaf, 165, [a_loaf]),
        (two_loads, 150, []),
        (at_another_pace, 164, []),
    ],
)
def test_a_replay_cut_at_any_time_says_the_same_up_to_there(
    tmp_path: Path, cook: Cook, minute: int, past: Sequence[Cook]
) -> None:
    """Forecasts and alarms, line by line, through the program's own replay."""
    recording, end = cook(BEGUN), BEGUN + timedelta(minutes=minute, seconds=30)
    rows = [row for row in recording.rows if row.at <= end]
    history = [written_down(tmp_path, "past", before(BEFORE)) for before in past]
    whole = list(lines(written_down(tmp_path, "whole", recording), 1200.0, history))
    cut = written_down(tmp_path, "cut", Recording(recording.header, rows))
    until = [line for line in whole if utc(json.loads(line)["time"]) <= rows[-1].at]
    assert list(lines(cut, 1200.0, history)) == until
    assert {json.loads(line)["type"] for line in until} == {"forecast", "alarm"}
    assert len(until) < len(whole)
