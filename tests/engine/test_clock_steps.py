"""The wall clock is set or jumps in the middle of a cook: alarms come as if nothing was."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from engine.kitchen import HOUSE, PROBES, STATION, daylight, event, reading, watch_at
from fakes import FakeClock, RecordingNotifier
from noonpot.core.cook import EventKind
from noonpot.core.filtering import ProbeFilter
from noonpot.core.moment import Moment, is_plausible
from noonpot.core.readings import Reading
from noonpot.core.stationfacts import OWN
from noonpot.engine.clockguard import ClockGuard
from noonpot.engine.pipeline import Pipeline
from noonpot.engine.stationwatch import StationWatch
from noonpot.ports import Health
from noonpot.store.sqlite import Store
from simday import at

POLL_S = 20.0
COOK_S = 2000.0
STEP_AT_S = 440.0
# These look ahead, by the sun, and go by the clock as it is.
AHEAD = {"soon", "sky", "rescue", "turn"}
DAY_S, YEAR_S = 86_400.0, 31_557_600.0
STEPS = [-2, 2, -3600, 3600, -DAY_S, DAY_S, 56 * YEAR_S, -10 * YEAR_S]


@dataclass(frozen=True, slots=True)
class Told:
    """One alert of a cooking alarm, and when it was raised by the monotonic clock [s]."""

    alarm: str
    text: str
    mono_s: float


def warm_up(now: Moment, begun_s: float) -> Sequence[Reading]:
    """A core that passes 92 °C after 18 minutes, in a pot that was hot and goes on warming."""
    elapsed_s = now.mono_s - begun_s
    core_c = min(96.0, 25.0 + elapsed_s * 70 / 1100)
    pot_c = 125.0 + elapsed_s * 15 / COOK_S + elapsed_s % 3
    return [reading("box-pot", now, pot_c), reading("box-core", now, core_c)]


def cooked(
    folder: Path, step_s: float, step_at_s: float, *, trusted: bool = True
) -> tuple[list[Told], list[str]]:
    """What was told in a cook with one step of the clock; and what the station said of itself."""
    folder.mkdir()
    clock = FakeClock(at("09:00"))
    clock.trust(trusted)
    begun_s = clock.moment().mono_s
    told: list[Told] = []
    own_words: list[str] = []
    with Store(folder / "noonpot.db", clock) as store:
        store.register(PROBES)
        sky = daylight(clock.moment().at)
        watch = watch_at(clock, sky)
        guard = ClockGuard(clock.moment())
        pipeline = Pipeline(
            STATION.name,
            [watch],
            {p.name: ProbeFilter() for p in PROBES},
            store,
            [RecordingNotifier()],
            Health(),
            own=StationWatch(HOUSE, clock.moment()),
            commit_s=60,
        )
        pipeline.resume(clock.moment())
        pipeline.round(clock.moment(), [], [event(EventKind.LOAD, clock.moment(), food="bread")])
        seen = 0
        while (now := clock.advance(POLL_S)).mono_s - begun_s <= COOK_S:
            if now.mono_s - begun_s == step_at_s:
                clock.step_wall(step_s)
                clock.trust(is_plausible(clock.moment().at))  # as the machine's clock does
                now = clock.moment()
            step = guard.check(now)
            if step is not None:
                pipeline.clock_stepped(step, now)
                sky.fetch(now.at)  # as the housekeeping does
            pipeline.round(now, warm_up(now, begun_s), [])
            alerts = store.unsent("recording", 1000)
            for alert in alerts[seen:]:
                if alert.cooker == OWN:
                    own_words.append(alert.text)
                else:
                    told.append(Told(alert.alarm, alert.text, now.mono_s))
            seen = len(alerts)
    return told, own_words


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> list[Told]:
    """The same cook without a step."""
    told, own_words = cooked(tmp_path_factory.mktemp("steady") / "a", 0.0, -1.0)
    assert {"done", "soon"} <= {t.alarm for t in told}
    assert own_words == []
    return told


def by_heat(told: Sequence[Told]) -> list[tuple[str, float]]:
    """Alarms about food and its temperatures, with their times."""
    return [(t.alarm, t.mono_s) for t in told if t.alarm not in AHEAD]


def ahead(told: Sequence[Told]) -> set[str]:
    return {t.alarm for t in told if t.alarm in AHEAD}


@pytest.mark.parametrize("step_s", STEPS)
def test_no_step_of_a_clock_hurries_or_delays_an_alarm_by_heat_or_brings_a_false_one(
    tmp_path: Path, steady: list[Told], step_s: float
) -> None:
    told, own_words = cooked(tmp_path / "a", step_s, STEP_AT_S)
    assert by_heat(told) == by_heat(steady)
    assert ahead(told) <= ahead(steady)
    assert len(own_words) == (0 if abs(step_s) < 60 else 1)


@pytest.mark.parametrize("step_s", [0.0, 3600.0, 56 * YEAR_S])
def test_the_first_setting_of_the_clock_is_no_event_for_food(
    tmp_path: Path, steady: list[Told], step_s: float
) -> None:
    told, own_words = cooked(tmp_path / "a", step_s, 200.0, trusted=False)
    assert by_heat(told) == by_heat(steady)
    assert ahead(told) <= ahead(steady)
    assert own_words == []


def danger_s(step_s: float) -> list[float]:
    """The time in the danger zone that is counted for chicken at 40 °C, minute by minute [s]."""
    clock = FakeClock(at("09:00"))
    watch = watch_at(clock)
    watch.take(event(EventKind.LOAD, clock.moment(), food="chicken"), clock.moment())
    counted = []
    for second in range(0, 3600, 20):
        if second == 1200:
            clock.step_wall(step_s)
        now = clock.advance(20)
        watch.step(now, [reading("box-core", now, 40.0 + second % 60 / 60)])
        safety = watch.facts(now).safety
        assert safety is not None
        counted.append(safety.course.danger_s)
    return counted


@pytest.mark.parametrize("step_s", STEPS)
def test_time_in_the_danger_zone_is_counted_by_no_wall_clock(step_s: float) -> None:
    steady, stepped = danger_s(0.0), danger_s(step_s)
    assert steady[-1] == pytest.approx(3600, abs=60)
    assert stepped == pytest.approx(steady, abs=1.0)
