"""Curves: peaks survive, gaps show, the right probe counts, and a year costs no more than a day."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fakes import FakeClock
from noonpot.core.curve import Curve
from noonpot.core.moment import utc
from noonpot.core.readings import Reading, Role
from noonpot.ports import Batch
from noonpot.store import bins
from noonpot.store.sqlite import Store
from store.shelf import START, opened

EARLY, LATE = utc("2026-01-01T00:00:00Z"), utc("2027-01-01T00:00:00Z")


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def store(tmp_path: Path, clock: FakeClock) -> Iterator[Store]:
    with opened(tmp_path / "noonpot.db", clock) as made:
        yield made


def write(
    store: Store,
    clock: FakeClock,
    values: Sequence[float],
    probe: str = "box-pot",
    step_s: float = 5,
) -> None:
    """Readings of one probe, so far apart; the first is now."""
    samples = []
    for value in values:
        now = clock.moment()
        samples.append(Reading(probe, now.at, now.mono_s, value))
        clock.advance(step_s)
    store.write(clock.moment(), Batch(samples=samples))


def drawn(store: Store, points: int = 600, cooker: str = "box") -> Curve:
    return store.curve(cooker, EARLY, LATE, points)


def line(curve: Curve, role: Role = Role.POT) -> list[float]:
    return [value for value in curve.values[role] if value is not None]


def test_without_readings_there_is_an_empty_curve(store: Store) -> None:
    curve = drawn(store)
    assert (curve.times_s, line(curve), curve.every_s) == ([], [], 0)
    assert curve.values.keys() == set(Role)
    assert drawn(store, cooker="nobody").times_s == []


def test_a_peak_of_one_reading_survives_any_thinning(store: Store, clock: FakeClock) -> None:
    values = [80.0] * 3000
    values[1234], values[2345] = 150.0, 20.0
    write(store, clock, values)
    since = START
    curve = store.curve("box", since, clock.moment().at, 20)
    assert len(curve.times_s) <= 20
    assert (max(line(curve)), min(line(curve))) == (150.0, 20.0)
    hot = curve.values[Role.POT].index(150.0)
    assert abs(curve.times_s[hot] - (START.timestamp() + 1234 * 5)) <= 2 * 3000 * 5 / 10


@given(st.lists(st.integers(-40, 400), min_size=1, max_size=300), st.integers(2, 50))
def test_extremes_are_those_of_the_readings_and_times_rise(values: list[int], points: int) -> None:
    clock = FakeClock(START)
    gathered = bins.Bins(int(START.timestamp()), 100, [1])
    for value in values:
        gathered.take(int(clock.moment().at.timestamp()) // points, 1, value, points)
        clock.advance(5)
    assert min(e.low[0] for e in gathered.found.values()) == min(values)
    assert max(e.high[0] for e in gathered.found.values()) == max(values)


def test_each_reading_of_a_short_time_stands_where_it_was(store: Store, clock: FakeClock) -> None:
    write(store, clock, [80.0, 81.0, 82.0], step_s=20)
    curve = store.curve("box", START, clock.moment().at, 600)
    begin_s = int(START.timestamp())
    assert list(curve.times_s) == [begin_s, begin_s + 20, begin_s + 40]
    assert line(curve) == [80.0, 81.0, 82.0]


def test_a_silence_breaks_the_line(store: Store, clock: FakeClock) -> None:
    write(store, clock, [80.0] * 20)
    clock.advance(3600)
    write(store, clock, [60.0] * 20)
    curve = store.curve("box", START, clock.moment().at, 600)
    (gap,) = [i for i, value in enumerate(curve.values[Role.POT]) if value is None]
    assert curve.times_s[gap + 1] - curve.times_s[gap - 1] > 3000
    assert list(curve.times_s) == sorted(set(curve.times_s))


def test_probes_read_some_seconds_apart_make_whole_lines(store: Store, clock: FakeClock) -> None:
    for number in range(60):  # a round each minute; the core comes after the end of the bin
        write(store, clock, [80.0 + number], step_s=9)
        write(store, clock, [40.0 + number], "box-core", step_s=51)
    curve = store.curve("box", START, clock.moment().at, 4000)
    for role in (Role.POT, Role.CORE):
        inner = list(curve.values[role])[1:-1]
        assert None not in inner, role


def test_of_two_cores_the_colder_counts(store: Store, clock: FakeClock) -> None:
    samples = []
    for number in range(10):
        now = clock.advance(5)
        samples += [
            Reading("box-core", now.at, now.mono_s, 70.0 + number),
            Reading("box-core-2", now.at, now.mono_s, 60.0 + number),
        ]
    store.write(now, Batch(samples=samples))
    assert line(drawn(store), Role.CORE) == [60.0, 69.0]
    assert store.peak_core_c("box", EARLY, LATE) == 69.0
    reached = store.core_reached("box", 65.0, EARLY, LATE)
    assert reached is not None
    assert (reached - START).total_seconds() == 30  # the colder one's sixth reading
    assert store.core_reached("box", 69.5, EARLY, LATE) is None
    below = store.core_below("box", 75.0, EARLY, LATE)
    assert below is not None
    assert (below - START).total_seconds() == 5  # both at once, with the first reading
    assert store.core_below("box", 65.0, EARLY, LATE) is None  # one of them never was
    assert store.peak_core_c("dish", EARLY, LATE) is None


def test_shared_probes_serve_every_cooker_and_others_stay_apart(
    store: Store, clock: FakeClock
) -> None:
    write(store, clock, [22.0], "shade")
    write(store, clock, [500.0], "sky")
    write(store, clock, [120.0], "dish-pot")
    box, dish = drawn(store), drawn(store, cooker="dish")
    assert line(box, Role.AMBIENT) == line(dish, Role.AMBIENT) == [22.0]
    assert line(box, Role.IRRADIANCE) == [500.0]
    assert (line(box), line(dish)) == ([], [120.0])


def test_frost_stays_frost(store: Store, clock: FakeClock) -> None:
    write(store, clock, [-12.5, -30.0, -0.0625], "shade")
    assert min(line(drawn(store), Role.AMBIENT)) == -30.0
    assert max(line(drawn(store), Role.AMBIENT)) == -0.0625


def test_a_clock_that_is_set_late_moves_the_curve(tmp_path: Path) -> None:
    clock = FakeClock(utc("1970-01-01T00:05:00Z"))
    clock.trust(trusted=False)
    with opened(tmp_path / "noonpot.db", clock) as store:
        write(store, clock, [80.0, 81.0, 82.0])
        clock.step_wall((START - clock.moment().at).total_seconds())
        clock.trust(trusted=True)
        write(store, clock, [83.0])
        curve = drawn(store)
    assert line(curve)[0] == 80.0
    assert START.timestamp() - curve.times_s[0] == pytest.approx(15, abs=1)


def test_a_walk_over_a_long_time_sees_every_hour_and_says_its_step(
    store: Store, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    for day in range(5):
        write(store, clock, [80.0 + day + hour / 100 for hour in range(2000)], step_s=15)
        clock.advance(50_000)
    whole = drawn(store)
    monkeypatch.setattr(bins, "MOST_ROWS", 100)
    monkeypatch.setattr(bins, "LANDINGS", 400)
    walked = drawn(store)
    assert whole.every_s == 0
    assert 200 <= walked.every_s <= 600  # five times 8 h 20 min, seen 400 times
    assert max(line(walked)) == pytest.approx(max(line(whole)), abs=0.5)
    assert min(line(walked)) == pytest.approx(min(line(whole)), abs=0.5)


def test_a_walk_looks_at_a_bounded_number_of_rounds(
    store: Store, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(store, clock, [80.0] * 5000)
    monkeypatch.setattr(bins, "MOST_ROWS", 100)
    monkeypatch.setattr(bins, "LANDINGS", 50)
    looked = 0
    take = bins.Bins.take

    def counted(self: bins.Bins, number: int, series: int, value: int, at_s: int) -> None:
        nonlocal looked
        looked += 1
        take(self, number, series, value, at_s)

    monkeypatch.setattr(bins.Bins, "take", counted)
    drawn(store)
    assert 25 <= looked <= 55


def test_the_last_value_of_each_probe_is_the_newest(store: Store, clock: FakeClock) -> None:
    write(store, clock, [80.0, 81.0])
    write(store, clock, [22.0], "shade")
    values = store.last_values(EARLY, LATE)
    assert {probe: value for probe, (value, _) in values.items()} == {
        "box-pot": 81.0,
        "shade": 22.0,
    }
    assert values["box-pot"][1] == utc("2026-06-03T07:00:05Z")
    assert store.last_values(LATE, LATE) == {}
