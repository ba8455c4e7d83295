"""What the surveyor sees of a real card, a real data file, and channels that fall silent."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from broker import free_port
from fakes import FakeClock
from noonpot.app.daemon import SURVEY_S
from noonpot.app.messengers import Messengers
from noonpot.app.supply import Supply
from noonpot.app.surveyor import Surveyor, Trend
from noonpot.core.policy import StationLimits
from noonpot.ports import Batch, Health
from noonpot.store.sqlite import Store
from stations import station, wait_problem
from store.shelf import alert, opened, write_reading

HOUR_S = 3600.0


class Post:
    """A surveyor at work, and what the test can spoil."""

    def __init__(self, folder: Path) -> None:
        self.clock = FakeClock()
        self.file = folder / "noonpot.db"
        self.store: Store = opened(self.file, self.clock)
        self.silence = ""
        self.surveyor = Surveyor(
            self.clock,
            self.store,
            self.file,
            Supply(folder / "sys"),
            {"mqtt": lambda: self.silence},
        )


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    post = Post(tmp_path)
    yield post
    post.store.close()


def test_the_card_and_the_file_are_measured(post: Post) -> None:
    write_reading(post.store, post.clock.moment(), 50.0)
    survey = post.surveyor.survey()
    assert survey.free_mb is not None
    assert survey.free_mb > 0
    size = post.file.with_name("noonpot.db-wal").stat().st_size
    assert survey.wal_mb == pytest.approx(size / 1e6)
    assert survey.slowest_write_s == 0.0
    assert (survey.heat_c, survey.under_voltage, survey.absence) == (None, None, None)
    assert (survey.silent, survey.channels) == ((), ("mqtt",))


def test_a_write_that_took_long_is_seen_once(post: Post) -> None:
    with post.store._writing():  # noqa: SLF001  a card that takes its time
        post.clock.advance(7)
    assert post.surveyor.survey().slowest_write_s == 7.0
    assert post.surveyor.survey().slowest_write_s == 0.0


def test_a_channel_is_silent_since_it_was_first_seen_so(post: Post) -> None:
    now = post.clock.moment()
    post.store.write(now, Batch(alerts=[alert("one", now), alert("two", now)]))
    post.surveyor.survey()
    post.silence = "connection refused"
    post.clock.advance(20)
    post.surveyor.survey()
    post.clock.step_wall(-HOUR_S)
    post.clock.advance(100)
    (silent,) = post.surveyor.survey().silent
    assert (silent.channel, silent.for_s, silent.reason) == ("mqtt", 100.0, "connection refused")
    assert silent.waiting == 2
    post.silence = ""
    assert post.surveyor.survey().silent == ()


def test_a_broker_that_is_not_there_is_a_silent_channel(post: Post) -> None:
    with station(free_port()) as phone:
        messengers = Messengers([phone], None, post.store, post.clock, Health(), threading.Event())
        surveyor = Surveyor(
            post.clock, post.store, post.file, Supply(post.file.parent), messengers.lines()
        )
        wait_problem(phone, "no broker answers")
        (silent,) = surveyor.survey().silent
    assert silent.channel == "mqtt"
    assert "no broker answers" in silent.reason


def test_days_left_are_told_by_the_pace_of_many_hours() -> None:
    trend = Trend()
    left = [trend.days_left(hour * HOUR_S, 1000.0 - 10.0 * hour) for hour in range(10)]
    assert left[:6] == [None] * 6
    assert left[6] == pytest.approx(940 / 10 / 24)  # 94 hours at 10 MB an hour


def test_only_the_pace_of_the_last_two_days_counts() -> None:
    trend = Trend()
    for hour in range(48):
        trend.days_left(hour * HOUR_S, 5000.0 - 50.0 * hour)
    calm = [trend.days_left((48 + hour) * HOUR_S, 2600.0) for hour in range(49)]
    assert calm[0] is not None
    assert calm[-1] is None  # nothing fills the card any longer


def test_a_file_that_fails_leaves_the_rest_of_the_survey(post: Post) -> None:
    post.silence = "connection refused"
    post.store.close()
    survey = post.surveyor.survey()
    assert survey.silent[0].waiting == 0
    assert survey.absence is None
    assert survey.free_mb is not None


def test_a_survey_is_made_several_times_before_it_is_too_old() -> None:
    assert StationLimits().fresh_s >= 3 * SURVEY_S
