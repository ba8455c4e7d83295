"""Times of day when clocks are changed, and what others see of a clock that is not set."""

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from endurance.clock_kitchen import SINK, TRUE, WRONG_S, Kitchen
from noonpot.app.upkeep import last_due
from noonpot.core.cook import EventKind
from noonpot.core.localtime import coming, within
from noonpot.core.moment import Moment, utc
from noonpot.core.policy import Manners
from noonpot.declination import declination
from noonpot.engine.telling import is_quiet
from noonpot.settings.values import BackupWishes
from simday import HILL

ZONES = ("America/Denver", "Europe/Berlin", "Australia/Lord_Howe", "Africa/Nairobi")
TURNS = (
    date(2026, 3, 8),
    date(2026, 11, 1),
    date(2026, 3, 29),
    date(2026, 10, 25),
    date(2026, 4, 5),
    date(2026, 10, 4),
    date(2028, 2, 29),
    date(2026, 12, 31),
)
MINUTES = 24 * 60


@pytest.mark.parametrize("zone", ZONES)
def test_a_meal_is_always_ahead_and_within_a_day_and_an_hour_also_when_clocks_are_changed(
    zone: str,
) -> None:
    timezone = ZoneInfo(zone)
    for day in TURNS:
        start = datetime.combine(day, time(0), timezone).astimezone(UTC) - timedelta(hours=12)
        for minute in range(0, 2 * MINUTES, 30):
            now = start + timedelta(minutes=minute)
            for clock in (time(0), time(1, 30), time(2, 15), time(2, 30), time(3), time(18)):
                at = coming(now, clock, timezone).astimezone(UTC)
                assert timedelta(0) <= at - now <= timedelta(hours=25)


@pytest.mark.parametrize("zone", ZONES)
def test_a_backup_is_due_once_a_day_also_when_clocks_are_changed(zone: str) -> None:
    timezone = ZoneInfo(zone)
    for wish in (time(0), time(1, 30), time(2, 15), time(2, 30), time(3)):
        wishes = BackupWishes(at=wish)
        for day in TURNS:
            start = datetime.combine(day, time(12), timezone).astimezone(UTC) - timedelta(days=2)
            dues = [
                last_due(start + timedelta(minutes=10 * n), wishes, timezone)
                for n in range(4 * 24 * 6)
            ]
            assert dues == sorted(dues)
            assert len(set(dues)) == 5
            assert all(due <= start + timedelta(minutes=10 * n) for n, due in enumerate(dues))


def test_quiet_hours_go_by_the_clock_on_the_wall_and_by_none_that_is_not_set() -> None:
    timezone, manners = ZoneInfo("Europe/Berlin"), Manners(quiet_from=time(22), quiet_until=time(6))
    night = datetime(2026, 10, 25, 2, 30, tzinfo=timezone)
    for fold in (0, 1):
        at = night.replace(fold=fold).astimezone(UTC)
        assert is_quiet(manners, Moment(at, 0.0), timezone)
        assert not is_quiet(manners, Moment(at, 0.0, trusted=False), timezone)
    noon = datetime(2028, 2, 29, 12, tzinfo=timezone).astimezone(UTC)
    assert not is_quiet(manners, Moment(noon, 0.0), timezone)


@pytest.mark.parametrize("day", TURNS)
def test_a_time_of_a_solar_day_lies_within_it_also_when_clocks_are_changed(day: date) -> None:
    for zone in ZONES:
        for longitude in (-179.0, -105.0, 0.0, 13.4, 159.0, 180.0):
            at = within(day, longitude, time(2, 30), ZoneInfo(zone))
            noon = datetime.combine(day, time(12), UTC) - timedelta(hours=longitude / 15)
            assert abs((at - noon).total_seconds()) <= 13.5 * 3600


@pytest.mark.parametrize("error_s", WRONG_S.values(), ids=WRONG_S)
def test_a_compass_is_told_at_any_time_a_clock_can_show(error_s: float) -> None:
    told = declination(HILL, TRUE + timedelta(seconds=error_s))
    assert abs(told.degrees) < 30


# --- what others see


def test_what_stays_at_the_broker_says_that_its_time_is_a_guess_until_the_clock_is_set(
    tmp_path: Path,
) -> None:
    with Kitchen(tmp_path, WRONG_S["1970"], trusted=False) as kitchen:
        kitchen.live(120.0)
        now = kitchen.shown()["box/now"]
        assert (now["clock_trusted"], str(now["time"])[:4]) == (False, "1970")
        kitchen.right()
        kitchen.live(60.0)
        now = kitchen.shown()["box/now"]
        assert now["clock_trusted"] is True
        late_s = (kitchen.clock.moment().at - utc(str(now["time"]))).total_seconds()
        assert 0 <= late_s <= 60


def test_no_alarm_stays_at_the_broker_with_the_time_of_a_clock_that_was_not_set(
    tmp_path: Path,
) -> None:
    with Kitchen(tmp_path, WRONG_S["1970"], trusted=False) as kitchen:
        kitchen.say(EventKind.START, food="custard")
        kitchen.live(300.0, core_c=20.0)
        kitchen.right()
        kitchen.live(120.0, core_c=20.0)
        states = [body for topic, body in kitchen.shown().items() if "/alarm/" in topic]
        raised = [body for body in states if body["state"] != "normal"]
        assert raised
        assert [body for body in raised if str(body["since"])[:4] == "1970"] == []


def test_nothing_goes_to_a_time_series_server_before_the_clock_is_set(tmp_path: Path) -> None:
    with Kitchen(tmp_path, WRONG_S["yesterday"], trusted=False) as kitchen:
        kitchen.say(EventKind.START, food="bread")
        kitchen.live(300.0)
        kitchen.written()
        assert kitchen.store.outgoing(SINK, 10_000) == []
        assert kitchen.store.waiting(SINK) == 0
        kitchen.right()
        assert kitchen.store.outgoing(SINK, 10_000) == []  # the round that corrects comes first
        kitchen.live(100.0)
        times = {point.at_ms / 1000 for point in kitchen.store.outgoing(SINK, 10_000)}
        assert min(times) >= TRUE.timestamp() - 1
        assert max(times) <= kitchen.clock.moment().at.timestamp() + 1
