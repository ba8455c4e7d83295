"""Weather files: what they may look like, and which days of them a plan takes."""

from collections.abc import Sequence
from datetime import UTC, date, timedelta, timezone

import numpy as np
import pytest

from noonpot.core.weather import Weather, cloud_index, parse_weather
from noonpot.errors import WeatherError
from skies import DAY, EQUATOR, geometric_table, hour

TABLE = geometric_table()
NOON_S = np.array([hour(h).timestamp() for h in (9.0, 12.0, 14.5)])


def text(rows: Sequence[tuple[str, object]], column: str = "clear_sky_index") -> str:
    return "\n".join([f"time,{column}", *(f"{time},{value}" for time, value in rows)])


def day_of(day: date, value: object, hours: range = range(6, 19)) -> list[tuple[str, object]]:
    return [(f"{day}T{h:02}:00Z", value) for h in hours]


def read(content: str) -> Weather:
    return parse_weather(content, UTC)


def test_hours_between_two_rows_lie_between_their_values() -> None:
    rows = [(f"{DAY}T{h:02}:00Z", h / 20) for h in range(6, 19)]
    index = read(text(rows)).index(DAY, TABLE, EQUATOR, DAY, NOON_S)
    assert index == pytest.approx(np.array([9.0, 12.0, 14.5]) / 20)


def test_irradiance_is_taken_against_a_clear_sky() -> None:
    rows = [(f"{DAY}T{h:02}:00Z", 0.7 * TABLE.at(hour(h)).ghi) for h in range(6, 19)]
    index = read(text(rows, "ghi_wm2")).index(DAY, TABLE, EQUATOR, DAY, NOON_S)
    assert index == pytest.approx(0.7, abs=0.001)


def test_cloud_cover_becomes_light_as_kasten_and_czeplak_found() -> None:
    # Kasten and Czeplak (1980), Solar Energy 24, 177, from memory: G / G0 = 1 - 0.75 (N / 8)^3.4
    assert cloud_index(np.array([0.0, 50.0, 100.0])) == pytest.approx([1.0, 0.929, 0.25], abs=0.001)
    index = read(text(day_of(DAY, 100), "cloud_percent")).index(DAY, TABLE, EQUATOR, DAY, NOON_S)
    assert index == pytest.approx(0.25)


def test_the_day_itself_goes_before_all_others() -> None:
    rows = [r for d in (-1, 0, 1) for r in day_of(DAY + timedelta(days=d), 0.5)]
    assert read(text(rows)).days(DAY, 0.0) == [DAY]


def test_else_the_days_around_its_date_in_any_year_count() -> None:
    days = [date(2024, 12, 20), date(2025, 1, 4), date(2025, 3, 1), date(2025, 12, 31)]
    rows = [r for d in days for r in day_of(d, 0.5)]
    assert read(text(rows)).days(date(2027, 1, 2), 0.0) == [days[0], days[1], days[3]]


def test_a_day_of_few_rows_is_no_day() -> None:
    rows = day_of(DAY, 0.5, range(12, 15))
    with pytest.raises(WeatherError, match="no day in it is whole"):
        read(text(rows)).days(DAY, 0.0)


def test_a_day_whose_rows_are_all_at_night_tells_nothing() -> None:
    weather = read(text(day_of(DAY, 0.5, range(6))))
    assert np.isnan(weather.index(DAY, TABLE, EQUATOR, DAY, NOON_S)).all()


def test_a_day_is_moved_to_the_planned_one() -> None:
    past = DAY - timedelta(days=5)
    rows = [(f"{past}T{h:02}:00Z", h / 20) for h in range(6, 19)]
    table = geometric_table(day=past)
    index = read(text(rows)).index(past, table, EQUATOR, DAY, NOON_S)
    assert index == pytest.approx(np.array([9.0, 12.0, 14.5]) / 20)


def test_the_air_of_the_daylight_is_read() -> None:
    rows = [f"{DAY}T{h:02}:00Z,0.8,{h}" for h in range(24)]
    weather = read("\n".join(["time,clear_sky_index,air_c", *rows]))
    assert weather.air(DAY, TABLE, EQUATOR) == pytest.approx(12.0, abs=1.0)
    assert read(text(day_of(DAY, 1.0))).air(DAY, TABLE, EQUATOR) is None


def test_times_without_a_zone_are_those_of_the_station() -> None:
    east = timezone(timedelta(hours=2))
    local = parse_weather("time,clear_sky_index\n2026-03-20T14:00,0.5\n", east)
    assert local.times_s[0] == read("time,clear_sky_index\n2026-03-20T12:00Z,0.5\n").times_s[0]


def test_remarks_empty_lines_empty_cells_and_other_orders_are_fine() -> None:
    content = "# mine\n\n air_c , Time,ghi_wm2\n20,2026-03-20T12:00Z,700\n,2026-03-20T13:00Z,\n"
    weather = read(content)
    assert weather.values.tolist() == [700.0]
    assert weather.air_c.tolist() == [20.0]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("", "it is empty"),
        ("time,ghi\n", "column 'ghi' is not known; choose from air_c"),
        ("time,air_c\n", "must be time, one of ghi_wm2, clear_sky_index, cloud_percent"),
        ("time,ghi_wm2,cloud_percent\n", "must be time, one of"),
        ("time,time,ghi_wm2\n", "each once"),
        ("time,ghi_wm2\n", "no line has a value of ghi_wm2"),
        ("time,ghi_wm2\n3 June,5\n", "line 2: '3 June' is no time"),
        ("time,ghi_wm2\n2026-06-03T12:00,x\n", "line 2: ghi_wm2 is 'x', but must be a number"),
        ("time,ghi_wm2\n2026-06-03T12:00,-5\n", "from 0 to 1500"),
        ("time,ghi_wm2\n2026-06-03T12:00,inf\n", "from 0 to 1500"),
        ("time,ghi_wm2\n2026-06-03T12:00,5\n2026-06-03T12:00Z,6\n", "line 3: the time .* before"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_line(content: str, sentence: str) -> None:
    with pytest.raises(WeatherError, match=sentence):
        read(content)
