"""The report of a cook out of a real data file: every number of its safety log can be told by hand.

The core stands at 20 °C for 30 minutes, then rises a kelvin a minute to 80 °C; it passes 57 °C
after 67 minutes, 165 °F (the table "reheated", 15 s) after 83.9, and the target of 79 °C after 89.
"""

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from browser.cookday import lived
from fakes import FakeClock
from noonpot.app import reporting
from noonpot.app.machine import DATA_FILE
from noonpot.app.reporting import report_of
from noonpot.core.cookreport import SafetyTale
from noonpot.core.cookwords import page
from noonpot.core.moment import utc
from noonpot.errors import CookError, PictureError
from noonpot.settings.files import supplied
from noonpot.settings.reading import load
from noonpot.store.reader import Reader
from reports import START, WHOLE, Kept, foretold, happened, minutes, words_of
from simday import SimpleSun, event

PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return Kept(tmp_path)


def safety(kept: Kept, number: int) -> SafetyTale:
    (tale,) = kept.report(number).loads
    assert tale.safety is not None
    return tale.safety


def test_danger_until_safe_and_heat_after_it_are_those_told_by_hand(kept: Kept) -> None:
    cook = kept.cook()
    tale = safety(kept, cook.id)
    assert tale.before is not None
    assert tale.before.danger_s == pytest.approx(67 * 60, abs=2)
    assert tale.before.unknown_s == 0
    # 165 °F is 73.889 °C, met after 83.889 min; 15 s of it are needed
    assert tale.safe_at is not None
    assert (tale.safe_at - START).total_seconds() == pytest.approx(83.889 * 60 + 15, abs=12)
    heat_s = (100 - 83.889) * 60
    assert tale.last.course.killed == pytest.approx(heat_s / 15, rel=0.02)
    assert tale.last.course.safe
    read = words_of(page(kept.report(cook.id)))
    assert "in it until safe 1 h 07 min, none of it unseen" in read
    assert "By its probe the heat did what it must by 10:24." in read


def test_time_that_no_probe_saw_is_danger_and_no_heat(kept: Kept) -> None:
    cook = kept.cook(unseen=(50, 72))  # from 40 to 62 °C: of it 5 min were beyond 57 °C
    tale = safety(kept, cook.id)
    assert tale.before is not None
    assert tale.before.danger_s == pytest.approx(72 * 60, abs=2)
    assert tale.before.unknown_s == pytest.approx(22 * 60, abs=1)
    assert "1 h 12 min, 22 min of it unseen" in words_of(page(kept.report(cook.id)))


def test_a_monitor_that_was_off_saw_nothing_either(kept: Kept) -> None:
    cook = kept.started_anew(kept.cook(WHOLE[:3], until=50), minute=72)
    tale = safety(kept, cook.id)
    assert tale.before is not None
    assert tale.before.danger_s == pytest.approx(72 * 60, abs=3)
    assert tale.before.unknown_s == pytest.approx(22 * 60, abs=3)
    assert tale.last.course.safe


def test_what_was_hot_while_nobody_saw_it_is_not_safe(kept: Kept) -> None:
    cook = kept.cook(unseen=(80, 102))
    tale = safety(kept, cook.id)
    assert (tale.safe_at, tale.last.course.cooked) == (None, False)
    assert tale.last.course.danger_s == pytest.approx((67 + 20) * 60, abs=10)
    read = words_of(page(kept.report(cook.id)))
    assert "The heat did not do what makes it safe" in read
    assert "another heat before anybody eats" in read


def test_a_colder_place_found_by_hand_takes_the_heat_back(kept: Kept) -> None:
    cook = kept.cook([*WHOLE[:3], happened("spot", 99.9, core_c=41), *WHOLE[3:]])
    tale = safety(kept, cook.id)
    assert tale.safe_at is not None
    assert tale.last.course.killed < 1
    read = words_of(page(kept.report(cook.id)))
    assert "a colder place was found in it. Heat it through again" in read


def test_the_stored_readings_tell_the_same_as_the_watch_did_at_the_time(tmp_path: Path) -> None:
    file = tmp_path / "noonpot.toml"
    file.write_text(supplied("demo.toml").read_text(), encoding="utf-8")
    settings, sun = load(file), SimpleSun()
    begin, end = utc("2026-06-21T15:00:00Z"), utc("2026-06-21T15:50:00Z")
    settings.data.mkdir()
    script = [
        event("iron", "start", begin, food="stew"),
        event("iron", "aim", begin, azimuth=100, elevation=45),
        event("iron", "load", begin + timedelta(minutes=5), mass_kg=2.0, start_c=15),
        event("iron", "lid", begin + timedelta(minutes=40)),
    ]
    shown = lived(settings, script, begin, end, sun)["iron/now"]["safety"]
    assert isinstance(shown, dict)
    told = report_of(1, settings, Reader(settings.data / DATA_FILE, FakeClock(end)), sun, end)
    (tale,) = told.loads
    assert tale.safety is not None
    course = tale.safety.last.course
    assert shown["unsafe_s"] > 1800
    assert course.danger_s == pytest.approx(shown["unsafe_s"], abs=2)
    assert (course.unknown_s, course.safe) == (shown["unseen_s"], shown["safe"])
    assert tale.safety.last.limit_s == shown["limit_s"]


def test_each_load_has_a_safety_log_of_its_own(kept: Kept) -> None:
    again = happened("load", 60, food="bread", mass_kg=0.5)
    first, second = kept.report(kept.cook([*WHOLE[:3], happened("unload", 50), again]).id).loads
    assert first.until == minutes(50)
    assert first.safety is not None
    assert first.safety.last.course.danger_s == pytest.approx(50 * 60, abs=10)
    assert (second.load.food, second.safety, second.until) == ("bread", None, None)


def test_the_story_is_told_with_times_of_the_household(kept: Kept) -> None:
    given = [foretold(5, 80, 95, 130), foretold(60, 90, 91, 95)]
    told = kept.report(kept.cook(forecasts=given).id)
    (tale,) = told.loads
    assert tale.reached == minutes(89)
    assert tale.peak_core_c == 80.0
    assert len(told.forecasts) == 2
    read = words_of(page(told))
    assert "Pie in box Wednesday 3 June 2026 · garden, cook 1" in read
    assert "1.2 kg of pie went in at 09:00 at 20 °C. Its core came to 79 °C at 10:29" in read
    assert "1 of 2 forecasts had that in their band" in read
    assert "09:05 80% 10:35 10:20 to 11:10 6 min late" in read
    assert "mind <the> crust" in read
    assert "turned bearing 100°, tilt 45°" in read
    assert "18 °C on average, 18 °C to 18 °C" in read
    assert "not measured" not in read


def test_fahrenheit_for_those_who_read_it(kept: Kept) -> None:
    read = words_of(page(kept.report(kept.cook().id, units="F")))
    assert "at 68 °F. Its core came to 174 °F" in read
    assert "41 °F to 135 °F; 4 h in it are the limit" in read
    assert "°C" not in read


def test_an_aim_of_the_day_before_still_counts(kept: Kept) -> None:
    earlier = happened("aim", -1000, azimuth=90, elevation=30)
    kept.clock.advance(-1000 * 60)
    kept.cook([earlier, happened("stop", -999)], until=0)
    kept.clock.advance(1000 * 60)
    told = kept.report(kept.cook([WHOLE[0], *WHOLE[2:]]).id)
    assert [event.kind for event in told.events][:3] == ["start", "aim", "load"]
    assert told.looks[-1].misaim_deg is not None


def test_a_cook_that_nobody_ended_is_looked_at_for_a_day(kept: Kept) -> None:
    cook = kept.cook(WHOLE[:3])
    assert "is not its end" in words_of(page(kept.report(cook.id)))
    kept.clock.advance(timedelta(days=3).total_seconds())
    told = kept.report(cook.id)
    assert (told.until - START, told.cut) == (timedelta(hours=24), True)
    read = words_of(page(told))
    assert "this report looks at its first 24 h alone" in read
    assert "Discard it; heat does not mend it." in read


def test_a_cooker_that_is_gone_from_the_configuration_is_told_all_the_same(kept: Kept) -> None:
    cook = kept.cook()
    gone = replace(kept.settings.station, cookers=(), probes=())
    told = kept.report(cook.id, station=gone)
    assert told.cooker.name == "box"
    read = words_of(page(told))
    assert "No probe was in the food, so nothing is known, and it counts as unsafe." in read


def test_there_is_no_report_of_a_cook_that_never_was(kept: Kept) -> None:
    kept.cook()
    with pytest.raises(CookError, match="there is no cook 9; 'noonpot cook list'"):
        kept.report(9)


def test_the_curves_are_a_picture(kept: Kept) -> None:
    drawn = reporting.png(kept.report(kept.cook().id))
    assert drawn.startswith(PNG)
    assert int.from_bytes(drawn[16:20]) == 1440  # its width, in the first chunk


def test_without_the_library_one_is_told_what_to_do(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = kept.report(kept.cook().id)
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(PictureError, match=r"noonpot\[pictures\]"):
        reporting.png(told)


def test_there_is_no_picture_of_nothing(kept: Kept) -> None:
    told = kept.report(kept.cook().id)
    empty = replace(told.curve, times_s=[], values={})
    with pytest.raises(PictureError, match="cook 1: nothing was measured"):
        reporting.png(replace(told, curve=empty))
