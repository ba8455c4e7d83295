"""The recording format: what is read, what is refused, and that nothing is lost on the way."""

import string
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.cook import EventKind
from noonpot.core.detail import detail_text, parse_detail
from noonpot.core.header import Header
from noonpot.core.moment import utc
from noonpot.core.readings import Role
from noonpot.core.recording import (
    EVENTS,
    Recording,
    Row,
    format_recording,
    parse_recording,
    row_line,
)
from noonpot.core.station import Place
from noonpot.errors import RecordingError

HEADER = """\
# format: noonpot-recording 1
# cooker: box
# latitude: 46.8
# longitude: 6.9
# elevation_m: 491
"""
COLUMN_LINE = "time,pot_c,core_c,ambient_c,irradiance_wm2,event,detail\n"
ROWS = """\
2016-06-03T07:24:00Z,,,,,aim,azimuth=94.5 elevation=37.0
2016-06-03T07:24:00Z,24.00,,23.4375,556,,
2016-06-03T09:24:00Z,,,,,load,food=bread mass_kg=0.6 start_c=27.0 target_c=90
2016-06-03T09:25:00Z,88.5,27.25,,,,
"""
SOUND = HEADER + COLUMN_LINE + ROWS


def test_a_recording_is_read_with_its_events_and_its_missing_readings() -> None:
    recording = parse_recording(SOUND)
    assert recording.header == Header(Place(46.8, 6.9, 491.0), "box")
    aim, first, load, last = recording.rows
    assert (aim.event, aim.values) == (EventKind.AIM, {})
    assert aim.detail == {"azimuth": "94.5", "elevation": "37.0"}
    assert first.at == utc("2016-06-03T07:24:00Z")
    assert first.values == {Role.POT: 24.0, Role.AMBIENT: 23.4375, Role.IRRADIANCE: 556.0}
    assert load.detail["food"] == "bread"
    assert last.values == {Role.POT: 88.5, Role.CORE: 27.25}


def test_other_header_lines_are_understood_or_kept() -> None:
    extra = (
        "# aperture_m2: 0.3\n# acceptance_deg: 25\n# horizon: 80/12 110/4\n# by: Ada: me\n# hm\n"
    )
    header = parse_recording(HEADER + extra + COLUMN_LINE).header
    assert (header.aperture_m2, header.acceptance_deg) == (0.3, 25.0)
    assert header.place.horizon == ((80.0, 12.0), (110.0, 4.0))
    assert header.others == {"by": "Ada: me"}


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("\ufeff" + SOUND, id="byte order mark"),
        pytest.param(SOUND.replace("\n", "\r\n"), id="lines of another system"),
        pytest.param(SOUND.replace("07:24:00Z", "09:24:00+02:00"), id="another zone"),
        pytest.param(SOUND + "\n\n", id="blank lines"),
        pytest.param(SOUND.replace(",24.00,", ", 24.00 ,"), id="blanks in a cell"),
    ],
)
def test_the_same_recording_may_be_written_otherwise(text: str) -> None:
    assert parse_recording(text) == parse_recording(SOUND)


def test_columns_may_be_fewer_and_in_another_order() -> None:
    recording = parse_recording(HEADER + "core_c,time\n91.5,2016-06-03T09:25:00Z\n")
    assert recording.rows == [Row(utc("2016-06-03T09:25:00Z"), {Role.CORE: 91.5})]


def test_a_recording_may_hold_no_row() -> None:
    assert parse_recording(HEADER + COLUMN_LINE).rows == []


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "# format: noonpot-recording 1\n",
            "",
            (
                "line 1: this is no recording that can be read; it must be "
                "'# format: noonpot-recording 1'"
            ),
        ),
        (
            "recording 1",
            "recording 2",
            (
                "line 1: this is no recording that can be read; it must be "
                "'# format: noonpot-recording 1'"
            ),
        ),
        (
            "# longitude: 6.9\n",
            "",
            "line 1: longitude is missing in the header; add '# longitude: …'",
        ),
        (
            "latitude: 46.8",
            "latitude: 46,8",
            "line 3: latitude '46,8' is not a number; write it in digits with a decimal point",
        ),
        (
            "longitude: 6.9",
            "longitude: 690",
            "line 4: longitude 690.0 is outside -180 to 180 degrees",
        ),
        (
            "elevation_m: 491",
            "elevation_m: 49100",
            "line 5: elevation 49100.0 m is outside -430 to 8850 m",
        ),
        (
            "# cooker: box",
            "# horizon: 90",
            "line 2: horizon elevation '' is not a number; write it in digits with a decimal point",
        ),
        (
            "# cooker: box",
            "# latitude: 1",
            "line 3: latitude is given twice; keep one of the two",
        ),
        (
            COLUMN_LINE + ROWS,
            "",
            (
                "line 6: the column names are missing; "
                "write time,pot_c,core_c,ambient_c,irradiance_wm2,event,detail"
            ),
        ),
        ("core_c", "cor_c", "line 6: column 'cor_c' is unknown; did you mean core_c?"),
        ("core_c", "pot_c", "line 6: column pot_c stands twice; keep one of the two"),
        (
            COLUMN_LINE + ROWS,
            "pot_c,core_c\n",
            "line 6: column time is missing among pot_c, core_c; add it",
        ),
        (
            "07:24:00Z,24.00",
            "07:24:00,24.00",
            (
                "line 8: time '2016-06-03T07:24:00' is not a time with its zone; "
                "write it like 2016-06-03T07:24:00Z"
            ),
        ),
        (
            "2016-06-03T07:24:00Z,24.00",
            "noon,24.00",
            "line 8: time 'noon' is not a time with its zone; write it like 2016-06-03T07:24:00Z",
        ),
        (
            "2016-06-03T09:25:00Z",
            "2016-06-03T07:23:59Z",
            (
                "line 10: time 2016-06-03T07:23:59Z is earlier than 2016-06-03T09:24:00Z above it; "
                "put the rows in the order of time"
            ),
        ),
        (
            "24.00",
            "warm",
            (
                "line 8: pot_c 'warm' is not a number; write it in digits with a decimal point, "
                "or leave the cell empty for no reading"
            ),
        ),
        (
            "23.4375",
            "nan",
            (
                "line 8: ambient_c 'nan' is not a number; write it in digits with a decimal point, "
                "or leave the cell empty for no reading"
            ),
        ),
        (
            "24.00",
            "24,00",
            (
                "line 8: has 8 cells for 7 columns; an empty cell keeps its comma, "
                "a cell with a comma in it stands in quotes"
            ),
        ),
        (",aim,", ",aims,", "line 7: event 'aims' is unknown; did you mean aim?"),
        (
            ",aim,",
            ",acknowledge,",
            (
                "line 7: event 'acknowledge' is unknown; "
                "choose from aim, lid, load, note, spot, unload"
            ),
        ),
        (
            ",aim,",
            ",,",
            (
                "line 7: detail 'azimuth=94.5 elevation=37.0' stands without an event; "
                "name the event before it"
            ),
        ),
        (
            " elevation=37.0",
            "",
            "line 7: aim lacks elevation; write elevation= and a number in its detail",
        ),
        (
            "mass_kg=0.6",
            "mass_kg=600g",
            (
                "line 9: mass_kg of load '600g' is not a number; "
                "write it in digits with a decimal point"
            ),
        ),
        (
            "food=bread mass",
            "food=a=b mass",
            (
                "line 9: detail 'food=a=b mass_kg=0.6 start_c=27.0 target_c=90' cannot be read as "
                "key=value; put a value that holds = or quotes in double quotes"
            ),
        ),
        (
            "food=bread",
            '"food=bread',
            (
                "line 11: unexpected end of data; a cell that holds quotes stands in quotes, "
                'and each quote in it is written twice: ""'
            ),
        ),
    ],
)
def test_a_wrong_line_is_named_with_its_value_and_the_cure(
    old: str, new: str, sentence: str
) -> None:
    assert old in SOUND
    with pytest.raises(RecordingError) as refused:
        parse_recording(SOUND.replace(old, new, 1))
    assert str(refused.value) == sentence


@pytest.mark.parametrize("kind", [EventKind.START, EventKind.STOP, EventKind.ACKNOWLEDGE])
def test_a_row_refuses_an_event_that_the_format_does_not_know(kind: EventKind) -> None:
    with pytest.raises(ValueError, match="is not recorded; choose from aim, lid"):
        Row(utc("2016-06-03T07:24:00Z"), event=kind)


def test_a_row_refuses_a_time_without_a_zone() -> None:
    with pytest.raises(ValueError, match="has no time zone; give it in UTC"):
        Row(datetime(2016, 6, 3, 7, 24))  # noqa: DTZ001 - the very thing that is refused


def test_times_are_written_to_the_second_in_utc() -> None:
    row = Row(utc("2016-06-03T09:24:00.9+02:00"), {Role.POT: 88.5})
    assert row_line(row) == "2016-06-03T07:24:00Z,88.5,,,,,"


def test_words_without_a_key_are_the_text_of_an_event() -> None:
    assert parse_detail("lid slipped, x = 3") == {"text": "lid slipped, x = 3"}


def test_a_detail_key_of_two_words_is_refused() -> None:
    with pytest.raises(ValueError, match="detail key 'two words' must be one word"):
        detail_text({"two words": "1"})


def test_a_broken_escape_in_quotes_is_refused() -> None:
    with pytest.raises(ValueError, match="a backslash in it is written twice"):
        parse_detail(r'text="C:\pots"')


# Everything a person or a program may have stored, whatever its signs.
words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
keys = st.text(string.ascii_lowercase + "_", min_size=1, max_size=8)
details = st.dictionaries(keys, words, max_size=3)
numbers = st.floats(allow_nan=False, allow_infinity=False)
readings = st.dictionaries(st.sampled_from(Role), numbers)
seconds = st.integers(0, 40_000)


@st.composite
def rows(draw: st.DrawFn) -> list[Row]:
    start = datetime(2016, 6, 3, 7, 0, tzinfo=UTC)
    made = []
    for second in sorted(draw(st.lists(seconds, max_size=8))):
        event = draw(st.none() | st.sampled_from(EVENTS))
        detail = draw(details) if event in (EventKind.NOTE, EventKind.LID) else {}
        if event is EventKind.AIM:
            detail = {"azimuth": str(draw(numbers)), "elevation": "37.5"}
        elif event is EventKind.SPOT:
            detail = {"core_c": str(draw(numbers))}
        elif event is EventKind.LOAD:
            detail = {"food": draw(words), "mass_kg": "0.6"}
        made.append(Row(start + timedelta(seconds=second), draw(readings), event, detail))
    return made


@st.composite
def headers(draw: st.DrawFn) -> Header:
    place = Place(
        draw(st.floats(-90, 90)),
        draw(st.floats(-180, 180)),
        draw(st.floats(-430, 8850)),
        tuple(draw(st.lists(st.tuples(st.floats(0, 360), st.floats(0, 90)), max_size=3))),
    )
    others = draw(
        st.dictionaries(st.sampled_from(["by", "wind", "pot"]), st.sampled_from(["a: b"]))
    )
    size = st.none() | st.floats(0.01, 10)
    return Header(place, draw(st.sampled_from(["box", "two"])), draw(size), draw(size), others)


@given(headers(), rows())
def test_what_is_written_is_read_back_whole(header: Header, rows: list[Row]) -> None:
    recording = Recording(header, rows)
    assert parse_recording(format_recording(recording)) == recording


@given(details)
def test_a_detail_is_read_back_whole(detail: dict[str, str]) -> None:
    assert parse_detail(detail_text(detail)) == detail


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_by_name(text: str) -> None:
    refusals = []
    for recording in (text, HEADER + text, HEADER + COLUMN_LINE + text, SOUND + text):
        try:
            parse_recording(recording)
        except RecordingError as error:
            refusals.append(str(error))
    assert all(refusal.startswith("line ") for refusal in refusals)


@pytest.mark.parametrize("time", ["0001-01-01T00:00:00+23:00", "9999-12-31T23:59:59-23:00"])
def test_a_time_outside_of_all_calendars_is_no_time(time: str) -> None:
    with pytest.raises(RecordingError, match="is not a time with its zone"):
        parse_recording(f"{HEADER}{COLUMN_LINE}{time},1,,,,,\n")


@pytest.mark.parametrize("year", ["0999", "1899", "2200"])
def test_a_year_that_no_cook_was_in_is_refused(year: str) -> None:
    with pytest.raises(RecordingError, match="is not between the years 1900 and 2200"):
        parse_recording(f"{HEADER}{COLUMN_LINE}{year}-06-03T07:24:00Z,1,,,,,\n")


def test_a_long_detail_is_read_in_time_that_grows_with_its_length() -> None:
    blanks = " " * 100_000  # once this took minutes
    assert parse_detail(f"a={blanks}x b=y") == {"a": f"{blanks}x", "b": "y"}


def test_a_sentence_about_a_long_text_is_short() -> None:
    with pytest.raises(RecordingError) as refused:
        parse_recording(f"{HEADER}{COLUMN_LINE}2026-06-03T07:24:00Z,{'x' * 100_000},,,,,\n")
    assert len(str(refused.value)) < 300
