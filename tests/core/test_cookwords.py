"""The page of a report: whole in itself, read as it was meant, whatever people typed."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from noonpot.core.cook import Event, EventKind
from noonpot.core.cookreport import CookReport
from noonpot.core.cookwords import page, title
from noonpot.core.lethality import TABLES
from noonpot.core.markup import EMPTY
from noonpot.core.readings import Role
from noonpot.core.reportframe import POLICY, STYLE
from noonpot.core.safety import Course
from noonpot.core.safetywords import SOURCES
from reports import HOSTILE, foretold, happened, minutes, report, words_of

LETTERS = HOSTILE.replace("\x00", "").replace("\u202e", "")


class Reader(HTMLParser):
    """Reads a page strictly: every element is closed in its turn."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in EMPTY:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def everywhere_hostile() -> CookReport:
    """People and configurations write the same wicked words wherever words are kept."""
    told = report()
    (tale,) = told.loads
    assert tale.food is not None
    food = replace(tale.food, name=HOSTILE, source=HOSTILE, caution=HOSTILE)
    keys = ("text", "food", "mass_kg", "core_c", "azimuth", "meal", HOSTILE)
    detail = dict.fromkeys(keys, HOSTILE)
    return replace(
        told,
        station=HOSTILE,
        cook=replace(told.cook, cooker=HOSTILE, food=HOSTILE),
        events=[Event("box", minutes(1), kind, detail) for kind in EventKind],
        loads=[replace(tale, food=food, load=replace(tale.load, food=HOSTILE))],
        verdict=happened("verdict", 120, rating=HOSTILE, crumb=HOSTILE, text=HOSTILE),
    )


def test_wicked_words_are_shown_as_the_letters_they_are_made_of() -> None:
    told = page(everywhere_hostile())
    read = Reader(told)
    assert not {"script", "img", "link", "iframe"} & read.names
    assert not any(name.startswith("on") for name in read.attributes)
    assert sum(LETTERS in text for text in read.words) > 10
    assert "\u202e" not in told


@pytest.mark.parametrize("told", [report(), everywhere_hostile()], ids=["plain", "hostile"])
def test_a_report_needs_no_script_no_network_and_no_other_file(told: CookReport) -> None:
    html = page(told)
    assert "://" not in html
    assert not {"script", "link", "img", "object", "iframe", "a", "base"} & Reader(html).names
    assert not {"src", "href", "style", "srcset", "action"} & Reader(html).attributes
    assert "url(" not in html
    assert "@import" not in html


def test_its_one_style_is_the_one_that_its_policy_allows() -> None:
    (style,) = re.findall(r"<style>(.*?)</style>", page(report()), flags=re.DOTALL)
    assert style == STYLE
    assert "unsafe" not in POLICY


def test_the_story_in_a_sentence() -> None:
    told = report()
    assert title(told) == "Pie in box"
    read = words_of(page(told))
    assert (
        "1.2 kg of pie went in at 09:10 at 20 °C. Its core came to 79 °C at 10:39, after 1 h 29 "
        "min; the watch said at 10:41 that it was done. The highest was 80 °C." in read
    )
    assert "the first forecast gave a chance of 80%".capitalize() in read
    assert "2 of 3 forecasts had that in their band" in read
    assert "10:00 80% 10:33 10:30 to 10:38 6 min early" in read
    assert "10:20 80% 10:39 10:30 to 10:50 nothing" in read
    assert "By its probe the heat did what it must by 10:34." in read
    assert "in it until safe 1 h 07 min, none of it unseen" in read
    assert "heat in the end 64.4 times what it needs" in read
    assert "75% of a clear sky's light" in read
    assert "9° on average, 9° at most" in read
    assert "1600 m high; water boils at 95 °C" in read


def test_cautions_and_limits_stand_on_every_report() -> None:
    read = words_of(page(report(loads=[], events=[], looks=[], forecasts=[])))
    for word in ("burn", "into the sun", "glass", "second thermometer", "rely on Noonpot"):
        assert word in read
    assert "A probe measures one point" in read
    assert "Nothing was put in." in read
    assert "not known: no sensor measured sunlight" in read


@pytest.mark.parametrize(
    ("course", "said"),
    [
        (Course(danger_s=15_000, spoiled=True), "Discard it; heat does not mend it."),
        (Course(killed=0.999), "The heat did not do what makes it safe"),
        (Course(killed=2, cooked=True, late=(21.0, 7200.0)), "not below 21 °C within 2 h. Discard"),
        (Course(killed=0.4, cooked=True, cooling_s=900), "Heat it through again before anybody"),
    ],
)
def test_what_went_wrong_is_said_aloud(course: Course, said: str) -> None:
    told = report()
    (tale,) = told.loads
    assert tale.safety is not None
    last = replace(tale.safety.last, course=course)
    safe_at = tale.safety.safe_at if course.cooked else None
    tale = replace(tale, safety=replace(tale.safety, last=last, safe_at=safe_at))
    html = page(replace(told, loads=[tale]))
    assert re.search(rf'<p class="loud">[^<]*{said}', html.replace("\xa0", " "))
    assert "100% of what it needs" not in html


def test_food_that_is_safe_raw_and_food_that_nobody_knows() -> None:
    told = report()
    (tale,) = told.loads
    raw = replace(tale, safety=None)
    assert "no log was kept" in words_of(page(replace(told, loads=[raw])))
    unknown = replace(tale, food=None)
    read = words_of(page(replace(told, loads=[unknown])))
    assert 'unknown food, so as the worst: the table "poultry"' in read


def test_a_forecast_without_hope_and_a_cook_that_was_never_done() -> None:
    told = report()
    (tale,) = told.loads
    never = replace(tale, reached=None, done=None, peak_core_c=None)
    hopeless = replace(foretold(20, 1, 2, 3, 0.0), done_p10=None, done_p50=None, done_p90=None)
    read = words_of(page(replace(told, loads=[never], forecasts=[hopeless])))
    assert "its core was not seen at 79 °C." in read
    assert "Its core did not come to its target, as far as was measured." in read
    assert "09:20 0% - - -" in read


def test_a_night_names_its_days() -> None:
    late = report(events=[happened("note", 1000, text="cold")])
    assert "Thu 01:40 note cold" in words_of(page(late))


def test_nothing_measured_is_said() -> None:
    empty = replace(report().curve, times_s=[], values={role: [] for role in Role})
    assert "Nothing was measured." in words_of(page(report(curve=empty)))


def test_every_table_of_lethality_has_its_source_in_the_report() -> None:
    assert SOURCES.keys() == TABLES.keys()
