"""The picture of a forecast: well-formed, within its paper, and it says what the forecast says."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from noonpot.core.forecast import CurvePoint, Forecast
from noonpot.core.picture import HEIGHT, WIDTH, Picture, said, svg
from noonpot.core.wording import Wording
from skies import hour

NOW = hour(10)
CURVE = tuple(
    CurvePoint(NOW + timedelta(minutes=10 * i), 40.0 + 3 * i, 40.0 + 4 * i, 40.0 + 5 * i)
    for i in range(14)
)
SURE = Forecast(NOW, 90.0, 0.93, hour(11.5), hour(12), hour(12.75), curve=CURVE)
HOPELESS = Forecast(NOW, 90.0, 0.0, None, None, None, curve=CURVE)
MEASURED = [(NOW - timedelta(minutes=m), 40.0 - m / 3) for m in range(60, -1, -1)]
PICTURE = Picture("box: bread <&>", MEASURED, MEASURED, [(hour(11), 70.0), (hour(12), 91.0)], SURE)
DENVER = Wording("F", ZoneInfo("America/Denver"))
NS = "{http://www.w3.org/2000/svg}"


def tree(drawn: str) -> ET.Element:
    return ET.fromstring(drawn)  # noqa: S314  our own text, drawn a moment ago


def texts(drawn: str) -> list[str]:
    return [element.text or "" for element in tree(drawn).iter(f"{NS}text")]


def test_it_says_the_forecast_in_the_units_and_the_time_of_the_reader() -> None:
    words = texts(svg(PICTURE, Wording()))
    assert "box: bread <&>" in words
    assert (
        "At 10:00: 93% chance; if so, about 12:00, between 11:30 and 12:45 eight times in ten."
        in words
    )
    assert "target 90 °C" in words
    words = texts(svg(PICTURE, DENVER))
    assert "target 194 °F" in words
    assert "100 °F" in words
    assert any(word.startswith("At 04:00: 93% chance; if so, about 06:00") for word in words)


def test_a_hopeless_cook_is_drawn_and_said_to_be_so() -> None:
    drawn = svg(replace(PICTURE, forecast=HOPELESS, later=[]), Wording())
    assert said(HOPELESS, Wording()) in texts(drawn)
    assert "hardly any chance" in said(HOPELESS, Wording())
    assert "what came of it" not in drawn


def test_everything_lies_on_the_paper() -> None:
    drawn = tree(svg(PICTURE, Wording()))
    lines = [*drawn.iter(f"{NS}polyline"), *drawn.iter(f"{NS}polygon")]
    assert len(lines) == 5  # pot, core, what came, the middle, the band
    for line in lines:
        for place in line.attrib["points"].split():
            x, y = map(float, place.split(","))
            assert 0 <= x <= WIDTH
            assert 0 <= y <= HEIGHT


def test_the_target_is_met_where_the_middle_crosses_it() -> None:
    """The upright line of p50 stands where the dashed middle curve crosses the target."""
    drawn = tree(svg(PICTURE, Wording()))
    target_y = next(
        float(p.attrib["d"].split()[1].split("H")[0])
        for p in drawn.iter(f"{NS}path")
        if p.attrib.get("stroke-dasharray") == "7 4"
    )
    middle = next(
        p for p in drawn.iter(f"{NS}polyline") if p.attrib.get("stroke-dasharray") == "8 4"
    )
    points = [tuple(map(float, p.split(","))) for p in middle.attrib["points"].split()]
    crossing = next(x for x, y in points if y <= target_y)
    p50_x = next(
        float(p.attrib["d"][1:].split()[0])
        for p in drawn.iter(f"{NS}path")
        if p.attrib["d"].endswith(f"V{HEIGHT - 44}") and p.attrib["stroke"] == "#0b4f8a"
    )
    assert crossing == pytest.approx(p50_x, abs=25)


def test_without_a_measurement_there_is_nothing_to_draw() -> None:
    with pytest.raises(ValueError, match="nothing was measured"):
        svg(replace(PICTURE, pot=[], core=[]), Wording())
