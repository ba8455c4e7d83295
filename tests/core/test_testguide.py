"""Guides to the published tests: loads, hours by the sun, what is said beside ratings."""

from dataclasses import replace
from datetime import UTC, date, timedelta

import numpy as np
import pytest

from noonpot.core.merit import Merit, merit
from noonpot.core.meritwords import merit_report
from noonpot.core.powerwords import power_report
from noonpot.core.profile import balances, changes, profile
from noonpot.core.profilewords import change_report, profile_report
from noonpot.core.ratejson import merit_json, power_json, profile_json
from noonpot.core.rating import cooking_power
from noonpot.core.readings import Role
from noonpot.core.station import Place
from noonpot.core.tenminutes import brought_to_load, intervals
from noonpot.core.testguide import merit_guide, power_guide
from noonpot.core.testwindow import window
from noonpot.core.wording import Wording
from ratings import SPEC, all_of, blind, evidence, interval, water_day
from simday import HILL, JUNE, SimpleSun, at

SUN = SimpleSun()
WORDING = Wording()
TABLES = [SUN.day(HILL, JUNE + timedelta(days=n)) for n in range(3)]


def test_the_window_lies_within_two_hours_of_true_noon() -> None:
    found = window(TABLES[0], HILL, at("06:00"), 450.0)
    assert found is not None
    assert abs(found.begin - at("10:00")) <= timedelta(minutes=10)
    assert abs(found.end - at("14:00")) <= timedelta(minutes=10)


def test_a_late_hour_a_wall_or_winter_leave_no_window() -> None:
    assert window(TABLES[0], HILL, at("13:45"), 450.0) is None
    walled = replace(HILL, horizon=((0.0, 85.0), (359.0, 85.0)))
    assert window(TABLES[0], walled, at("06:00"), 450.0) is None
    north = Place(66.0, 0.0, 0.0)
    december = date(2026, 12, 21)
    assert window(SUN.day(north, december), north, at("06:00", december), 450.0) is None


def test_the_guide_tells_load_time_turns_and_cautions() -> None:
    lines = "\n".join(power_guide(SPEC, HILL, TABLES, at("08:00"), WORDING))
    assert "1.75 kg, which is 7 kg for each of the 0.25 m²" in lines
    assert "today from 10:00 to 14:00" in lines
    assert "noonpot cook load box --food water --mass-kg 1.75" in lines
    assert "until 90 °C, 5 K below boiling here" in lines
    assert "do not look into sun or mirrors" in lines
    late = "\n".join(power_guide(SPEC, HILL, TABLES, at("16:00"), WORDING))
    assert "on Thursday 4 June from 10:00" in late


def test_the_guide_of_merit_asks_for_eight_kilograms() -> None:
    lines = "\n".join(merit_guide(SPEC, HILL, TABLES, at("08:00"), WORDING))
    assert "2.00 kg of cold water" in lines
    assert "from 60 °C to 90 °C" in lines


def test_a_winter_without_enough_light_is_told() -> None:
    north, december = Place(66.0, 0.0, 0.0), date(2026, 12, 21)
    tables = [SUN.day(north, december)]
    lines = "\n".join(power_guide(SPEC, north, tables, at("08:00", december), WORDING))
    assert "not these days" in lines


def test_a_rating_names_every_condition_and_is_not_called_the_standard() -> None:
    rated = cooking_power(i for n in range(3) for i in intervals(evidence(water_day(n))))
    lines = "\n".join(power_report("box", rated))
    assert lines.startswith("box: cooking power ")
    assert "met / not met / not known" in lines
    assert "wind at most 2.5 m/s (5.1)" in lines
    assert "in the manner of ASABE S580.1, not by it" in lines
    assert "turned towards the beam by reckoning" in lines
    assert "fuel economy" in lines
    body = power_json("box", rated)
    assert body["observations"] == len(rated.intervals)
    assert body["method"] == "in the manner of ASABE S580.1"


def test_an_estimate_and_an_extrapolation_are_marked() -> None:
    short = cooking_power(
        replace(interval(30.0 + 3 * i, 33.0 + 3 * i, 800.0, 25.0, i), to_load=1.1) for i in range(5)
    )
    lines = "\n".join(power_report("box", short))
    assert "No interval reaches 50 K" in lines
    assert "brought to it by the heat that the empty cooker holds" in lines
    cook = evidence(blind(water_day(0), Role.IRRADIANCE)).understood(np.ones(31))
    assert "AN ESTIMATE" in "\n".join(power_report("box", cooking_power(intervals(cook))))


def test_nothing_to_rate_says_what_it_takes() -> None:
    lines = "\n".join(power_report("box", cooking_power([])))
    assert "no cooking power yet; no intervals" in lines
    assert "an air probe" in lines
    none = Merit(None, False, None, None, None, (), ())
    lines = "\n".join(merit_report("box", none, WORDING))
    assert "no first figure of merit yet" in lines
    assert "No second figure yet" in lines


def test_both_figures_are_told_with_grade_and_limits() -> None:
    cooks = all_of([water_day(n, empty_h=3) for n in range(3)])
    found = merit(cooks)
    lines = "\n".join(merit_report("box", found, WORDING))
    assert "first figure of merit F1 = 0.10" in lines
    assert "below the 0.4 asked for, from 3 loads" in lines
    assert len(merit_json("box", found)["warmings"]) == 3  # type: ignore[arg-type]
    good = replace(found, first=0.13)
    assert "grade A of IS 13429" in "\n".join(merit_report("box", good, WORDING))
    assert "ESTIMATE" not in lines
    blinded = evidence(blind(water_day(0, empty_h=3), Role.IRRADIANCE)).understood(np.ones(48))
    assert "AN ESTIMATE" in "\n".join(merit_report("box", merit([blinded]), WORDING))
    guessed = merit([evidence(water_day(0))], 0.11)
    assert "RECKONED from the profile" in "\n".join(merit_report("box", guessed, WORDING))


def test_a_profile_and_its_change_are_told() -> None:
    cooks = all_of([water_day(n, empty_h=2) for n in range(2)])
    known = profile(SPEC, balances(cooks))
    assert known is not None
    lines = "\n".join(profile_report("box", known, Wording("F", UTC)))
    assert "box, from 2 cooks" in lines
    assert "°F" in lines
    assert "never seen far off the sun" in lines
    changed = dict(changes(known, known))
    told = "\n".join(change_report(changed, known, known))
    assert "may be chance" in told
    body = profile_json("box", known, changed)
    assert set(body["profile"]) == set(body["since_rebuilt"])  # type: ignore[call-overload]
    assert profile_json("box", None, {})["cooks"] == 0


def test_a_smaller_load_is_brought_to_that_of_the_standard() -> None:
    light = replace(interval(50.0, 55.0, 700.0, 25.0, mass_kg=0.875), kg_per_m2=3.5)
    # 1.75 kg of 7325 J/K beside 4000 J/K take 0.647 of the heat, half of that take 0.478
    assert brought_to_load(light, 4000.0).to_load == pytest.approx(0.6468 / 0.4780, abs=0.001)
    right = replace(light, kg_per_m2=7.3)
    assert brought_to_load(right, 4000.0) is right
    assert brought_to_load(replace(light, kg_per_m2=None), 4000.0).to_load == 1.0
