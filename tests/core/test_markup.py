"""Markup is what was written as such; all else is text, whatever it looks like."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.markup import Markup, escaped, join, tag


def test_markup_stays_and_text_is_escaped() -> None:
    assert tag("p", "<b>", tag("b", "so"), None) == "<p>&lt;b&gt;<b>so</b></p>"
    assert join("a & b", Markup("<br>")) == "a &amp; b<br>"


def test_attributes_cannot_be_broken_out_of() -> None:
    assert tag("a", title="\"><script>'") == '<a title="&quot;&gt;&lt;script&gt;&#x27;"></a>'


def test_names_and_numbers_of_attributes_are_written_as_svg_has_them() -> None:
    written = tag("path", class_="x", stroke_width=1.5, x=2.0, y=0.333333, fill=None)
    assert written == '<path class="x" stroke-width="1.5" x="2" y="0.33"></path>'


@pytest.mark.parametrize("sign", ["\x00", "\x1b", "\u202e", "\u2066", "\ud800", "\uffff"])
def test_signs_that_break_or_turn_a_text_are_left_out(sign: str) -> None:
    assert escaped(f"so{sign}up") == "soup"


@given(st.text(st.characters(codec=None)))
def test_any_text_can_be_read_back_out_of_what_was_written(text: str) -> None:
    element = ET.fromstring(tag("p", text, title=text))  # noqa: S314  written a moment ago
    assert list(element) == []
    assert tag("p", text).encode("utf-8")
