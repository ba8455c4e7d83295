"""The pictures of a report: well-formed, on their paper, broken where nothing was read."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from noonpot.core.curve import Curve
from noonpot.core.foreseenwords import ribbon
from noonpot.core.markup import Markup
from noonpot.core.paper import CORE, POT
from noonpot.core.readings import Role
from noonpot.core.reportpicture import FULL, SLIM, curves, titled
from noonpot.core.wording import Wording
from reports import DENVER, HOSTILE, happened, minutes, report

NS = "{http://www.w3.org/2000/svg}"


def tree(drawn: str | None) -> ET.Element:
    assert drawn is not None
    return ET.fromstring(drawn)  # noqa: S314  our own text, drawn a moment ago


def words(drawn: str | None) -> list[str]:
    return [each.text or "" for each in tree(drawn).iter() if each.tag.endswith("text")]


def lines(drawn: str | None, colour: str) -> list[str]:
    found = [each.attrib for each in tree(drawn).iter() if each.tag.endswith("path")]
    return [each["d"] for each in found if each["stroke"] == colour and each.get("fill") == "none"]


@pytest.mark.parametrize("width", [FULL, SLIM])
def test_everything_lies_on_the_paper(width: float) -> None:
    told = report()
    (tale,) = told.loads
    for drawn in (curves(told, width), ribbon(tale, told.forecasts, told, width)):
        _, _, wide, high = map(float, tree(drawn).attrib["viewBox"].split())
        assert wide == width
        for path in tree(drawn).iter("path"):
            assert all(
                0 <= float(x) <= wide for x in re.findall(r"[ML]([\d.-]+) ", path.attrib["d"])
            )
            assert all(0 <= float(y) <= high for y in re.findall(r" ([\d.-]+)", path.attrib["d"]))


def test_a_line_breaks_where_nothing_was_read_and_the_core_begins_with_the_load() -> None:
    drawn = curves(report(), FULL)
    (core,) = lines(drawn, CORE)
    assert core.count("M") == 2
    assert core.count("M") + core.count("L") == 121 - 10 - 10
    (pot,) = lines(drawn, POT)
    assert pot.count("M") + pot.count("L") == 121


def test_the_axes_are_those_of_the_household() -> None:
    drawn = words(curves(report(), FULL))
    assert {"09:00", "10:00", "11:00", "80 °C", "target 79 °C", "danger zone"} <= set(drawn)
    drawn = words(curves(report(wording=Wording("F", DENVER)), FULL))
    assert {"150 °F", "target 174 °F"} <= set(drawn)


def test_numbers_of_what_was_done_do_not_hide_one_another() -> None:
    many = [happened("note", minute) for minute in (0, 0, 1, 2, 60)]
    drawn = tree(curves(report(events=many), SLIM))
    places = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in drawn.iter("circle")]
    assert len(places) == 5
    for i, (x, y) in enumerate(places):
        for other_x, other_y in places[:i]:
            assert abs(x - other_x) >= 14 or abs(y - other_y) >= 14


def test_light_and_misaim_are_drawn_where_they_are_known() -> None:
    told = report()
    assert {"sunlight, W/m²", "misaim"} <= set(words(curves(told, FULL)))
    drawn = words(curves(replace(told, looks=[]), FULL))
    assert not {"sunlight, W/m²", "misaim"} & set(drawn)


def test_the_forecasts_are_held_against_what_came_of_them() -> None:
    told = report()
    (tale,) = told.loads
    assert "did" in words(ribbon(tale, told.forecasts, told, FULL))
    never = replace(tale, reached=None)
    assert "did" not in words(ribbon(never, told.forecasts, told, FULL))


def test_a_file_of_its_own_has_a_title_and_says_that_it_is_svg() -> None:
    drawn = titled(report(), f"Pie {HOSTILE}")
    assert tree(drawn).tag == f"{NS}svg"
    assert words(drawn)[0] == f"Pie {HOSTILE.replace(chr(0), '').replace(chr(0x202E), '')}"


def test_where_nothing_was_measured_nothing_is_drawn() -> None:
    empty = report(curve=Curve("box", minutes(0), minutes(120), [], {role: [] for role in Role}))
    assert curves(empty, FULL) is None
    with pytest.raises(ValueError, match="nothing was measured"):
        titled(empty, "nothing")


def test_a_cook_of_a_moment_and_a_reading_beyond_all_bounds_are_drawn() -> None:
    curve = Curve("box", minutes(0), minutes(0), [int(minutes(0).timestamp())], {Role.POT: [400.0]})
    drawn = curves(report(curve=curve, until=minutes(0), looks=[], loads=[]), FULL)
    assert isinstance(drawn, Markup)
