"""A recording plays back in the time of the given clock, gaps and all."""

from pathlib import Path

import pytest

from fakes import FakeClock
from noonpot.core.moment import utc
from noonpot.core.readings import Defect, FaultKind, Measured
from noonpot.errors import BusError
from noonpot.ports import Bus, Surroundings
from noonpot_hw.replayed import HOLD_S, open_bus
from simday import HILL, SimpleSun, event

RECORDING = """\
# format: noonpot-recording 1
# cooker: box
# latitude: 46.8
# longitude: 6.9
# elevation_m: 491
time,pot_c,core_c,ambient_c,irradiance_wm2,event,detail
2016-06-03T07:24:00Z,,,,,aim,azimuth=94.5 elevation=37.0
2016-06-03T07:24:00Z,24.00,,23.4375,,,
2016-06-03T07:25:00Z,25.50,,23.5,,,
2016-06-03T07:26:00Z,,27.25,23.5,,,
2016-06-03T07:26:30Z,,,,,note,text=a cloud
2016-06-03T08:26:00Z,90.0,31.0,,,,
2016-06-03T08:27:00Z,91.0,32.0,24.0,,,
"""


def play(folder: Path, clock: FakeClock, text: str = RECORDING, **options: object) -> Bus:
    file = folder / "cook.csv"
    file.write_text(text, encoding="utf-8")
    return open_bus({"file": str(file)} | options, Surroundings(clock, HILL, SimpleSun()))


def missing(detail: str) -> Defect:
    return Defect(FaultKind.NOT_ANSWERING, detail)


def test_rows_come_back_in_their_own_time_on_whatever_day(tmp_path: Path) -> None:
    clock = FakeClock(utc("2031-01-01T12:00:00Z"))
    bus = play(tmp_path, clock)
    assert bus.read("pot") == Measured(24.0)
    clock.advance(59)
    assert bus.read("pot") == Measured(24.0)
    clock.advance(1)
    assert bus.read("pot") == Measured(25.5)
    assert bus.read("ambient") == Measured(23.5)
    clock.step_wall(-40_000)
    clock.advance(60)
    assert bus.read("core") == Measured(27.25)


def test_an_empty_cell_is_a_defect_and_not_the_value_before(tmp_path: Path) -> None:
    clock = FakeClock()
    bus = play(tmp_path, clock)
    assert bus.read("core") == missing("no value in the recording")
    clock.advance(120)
    assert bus.read("pot") == missing("no value in the recording")


def test_an_event_hides_no_reading(tmp_path: Path) -> None:
    clock = FakeClock()
    bus = play(tmp_path, clock)
    clock.advance(155)
    assert bus.read("core") == Measured(27.25)


def test_a_gap_in_the_recording_is_a_gap_in_the_replay(tmp_path: Path) -> None:
    clock = FakeClock()
    bus = play(tmp_path, clock)
    clock.advance(120 + HOLD_S)
    assert bus.read("core") == Measured(27.25)
    clock.advance(1)
    assert bus.read("core") == missing("a gap in the recording")
    clock.advance(3600 - HOLD_S)
    assert bus.read("core") == Measured(31.0)


def test_after_the_last_row_every_probe_says_that_the_recording_has_ended(tmp_path: Path) -> None:
    clock = FakeClock()
    bus = play(tmp_path, clock)
    clock.advance(3780)
    assert bus.read("pot") == Measured(91.0)
    clock.advance(0.1)
    assert bus.read("pot") == missing("the recording has ended")
    assert bus.read("irradiance") == missing("the recording has ended")


def test_before_the_first_reading_there_is_none(tmp_path: Path) -> None:
    clock = FakeClock()
    early = RECORDING.replace("2016-06-03T07:24:00Z,,,,,aim", "2016-06-03T07:20:00Z,,,,,aim")
    bus = play(tmp_path, clock, early)
    assert bus.read("pot") == missing("no value in the recording")
    clock.advance(240)
    assert bus.read("pot") == Measured(24.0)


def test_a_scan_lists_the_columns_that_hold_values(tmp_path: Path) -> None:
    bus = play(tmp_path, FakeClock())
    assert [found.address for found in bus.scan()] == ["pot", "core", "ambient"]
    assert bus.scan()[0].description == "pot of box, replayed"
    named = play(tmp_path, FakeClock(), cooker="garden")
    assert named.scan()[1].description == "core of garden, replayed"


def test_a_probe_that_is_not_recorded_does_not_answer(tmp_path: Path) -> None:
    bus = play(tmp_path, FakeClock())
    assert bus.read("irradiance") == missing("no value in the recording")
    assert bus.read("pots") == missing("there is no 'pots' in a recording; did you mean pot?")


def test_the_past_takes_no_notice(tmp_path: Path) -> None:
    clock = FakeClock()
    bus = play(tmp_path, clock)
    bus.notice(event("box", "unload", clock.moment().at))
    assert bus.read("pot") == Measured(24.0)
    bus.close()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({}, "file is None; give the path of a recording"),
        ({"file": 3}, "file is 3; give the path of a recording"),
        ({"file": "cook.csv", "cooker": 1}, "cooker is 1; give a name in quotes"),
        ({"file": "cook.csv", "files": 1}, "option 'files' is unknown; did you mean file?"),
        (
            {"file": "nowhere.csv"},
            (
                "cannot read file nowhere.csv: No such file or directory; "
                "check the path and its rights"
            ),
        ),
        ({"file": "a\0b"}, "file 'a\\x00b' is no file name; give a path"),
        ({"file": "latin.csv"}, "file latin.csv is not UTF-8 text; save it as UTF-8"),
        (
            {"file": "wrong.csv"},
            (
                "file wrong.csv, line 8: pot_c 'hot' is not a number; write it in digits with a "
                "decimal point, or leave the cell empty for no reading"
            ),
        ),
        (
            {"file": "empty.csv"},
            "file empty.csv holds no reading at all; give another recording",
        ),
    ],
)
def test_a_wrong_option_is_named_with_its_value_and_the_cure(
    options: dict[str, object],
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("latin.csv").write_bytes(RECORDING.replace("box", "Käse").encode("latin-1"))
    Path("wrong.csv").write_text(RECORDING.replace("24.00", "hot"))
    Path("empty.csv").write_text("\n".join(RECORDING.splitlines()[:7]))
    with pytest.raises(BusError) as refused:
        open_bus(options, Surroundings(FakeClock(), HILL, SimpleSun()))
    assert str(refused.value) == f"replayed: {sentence}"
