"""The table for a spreadsheet."""

import csv
from zoneinfo import ZoneInfo

import pytest

from noonpot.core.cook import EventKind
from noonpot.core.header import Header
from noonpot.core.moment import utc
from noonpot.core.readings import Role
from noonpot.core.recording import Recording, Row
from noonpot.core.sheet import sheet
from noonpot.core.station import Place

DENVER = ZoneInfo("America/Denver")
HEADER = Header(Place(40.0, -105.0, 1600.0), "box")


def rows_of(*rows: Row, units: str = "C") -> list[list[str]]:
    return list(csv.reader(sheet(Recording(HEADER, rows), units, DENVER).splitlines()))


def test_a_row_a_minute_with_the_last_reading_and_all_events() -> None:
    _, first, second = rows_of(
        Row(utc("2026-06-03T16:00:05Z"), {Role.POT: 80.0, Role.IRRADIANCE: 803.6}),
        Row(utc("2026-06-03T16:00:50Z"), {Role.POT: 81.04}),
        Row(utc("2026-06-03T16:00:55Z"), event=EventKind.LID),
        Row(utc("2026-06-03T16:00:56Z"), event=EventKind.NOTE, detail={"text": "stirred"}),
        Row(utc("2026-06-03T16:02:00Z"), {Role.CORE: -1.0}),
    )
    assert first == ["2026-06-03 10:00", "81.0", "", "", "804", "lid; note text=stirred"]
    assert second == ["2026-06-03 10:02", "", "-1.0", "", "", ""]


def test_the_degrees_are_those_of_the_household() -> None:
    head, row = rows_of(Row(utc("2026-06-03T16:00:05Z"), {Role.CORE: 100.0}), units="F")
    assert head[2] == "core °F"
    assert row[2] == "212.0"


def test_an_empty_recording_is_a_head_alone() -> None:
    assert len(rows_of()) == 1


@pytest.mark.parametrize("begin", ["=", "+", "-", "@"])
def test_no_cell_is_taken_for_a_formula(begin: str) -> None:
    detail = {"text": f'{begin}HYPERLINK("http://evil.example")'}
    _, row = rows_of(Row(utc("2026-06-03T16:00:05Z"), event=EventKind.NOTE, detail=detail))
    assert not row[-1].startswith(begin)


@pytest.mark.parametrize(
    "text",
    [
        "a;=HYPERLINK(0)",
        "a; =1+1",
        "a,+1",
        "a|-1",
        "a;@SUM(1)",
        'a;"=1"',
        "a;'=1",
        "=1;=2;=3",
        "a,\uff1d1",
    ],
)
@pytest.mark.parametrize("splits", [";", ",", "|"])
def test_no_part_of_a_cell_is_taken_for_a_formula_wherever_a_spreadsheet_splits(
    text: str, splits: str
) -> None:
    row = Row(utc("2026-06-03T16:00:05Z"), event=EventKind.NOTE, detail={"text": text})
    line = sheet(Recording(HEADER, [row]), "C", DENVER).splitlines()[1]
    for part in line.split(splits):
        assert part.strip(' \\"')[:1] not in tuple("=+-@\uff1d"), part


def test_words_with_signs_in_them_stay_as_they_were_said() -> None:
    said = "stirred; 2+2 = 4, well-done; me@home"
    row = Row(utc("2026-06-03T16:00:05Z"), event=EventKind.NOTE, detail={"text": said})
    assert said in rows_of(row)[1][-1]
