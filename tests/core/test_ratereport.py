"""The report of a cooker: profile, tests with their conditions, foods, limits and cautions."""

from dataclasses import replace
from datetime import date, timedelta

from noonpot.core.merit import merit
from noonpot.core.moment import utc
from noonpot.core.profile import balances, changes, profile
from noonpot.core.ratereport import RateReport, page
from noonpot.core.rating import cooking_power
from noonpot.core.recommendation import SKIES, Cell
from noonpot.core.reportwords import CAUTIONS
from noonpot.core.seasonwords import Basis
from noonpot.core.wording import Wording
from ratings import SPEC, all_of, interval, water_day
from reports import words_of

NOW = utc("2026-06-30T12:00:00Z")
JUNE = date(2026, 6, 1)
LINE = [
    interval(30.0 + 2 * n, 34.0 + 2 * n - 0.05 * n, 800.0, 25.0, n, day=JUNE + timedelta(n % 3))
    for n in range(25)
]
NOTHING = RateReport(SPEC, NOW, Wording(), None, cooking_power([]), merit([], None))


def cell(food: str, month: int, sky: str) -> Cell:
    return Cell(food, month, sky, 0.9, 7200.0, NOW, NOW)


def test_a_cooker_that_nobody_watched_is_told_what_is_missing() -> None:
    told = words_of(page(NOTHING))
    assert "No cook tells anything of it yet" in told
    assert "no cooking power yet" in told
    assert "no first figure of merit yet" in told
    assert "not known light measured by a sensor" in told
    assert "month by month" not in told
    assert all(caution in told for caution in CAUTIONS)


def test_a_watched_cooker_has_its_numbers_with_their_intervals() -> None:
    known = profile(SPEC, balances(all_of([water_day(0, empty_h=2), water_day(1, empty_h=2)])))
    assert known is not None
    gain = known.numbers["optical_gain"]
    told = words_of(page(replace(NOTHING, profile=known)))
    assert "Known from 2 cooks: empty in full sun it comes to about" in told
    row = f"{gain.value:.2f} {gain.low:.2f} {gain.high:.2f} light that becomes heat"
    assert row in told
    assert "What the rebuild did" not in told
    rebuilt = replace(NOTHING, profile=known, profile_before=known, changes=changes(known, known))
    assert "may be chance" in words_of(page(rebuilt))


def test_each_condition_is_met_or_not_or_not_known() -> None:
    rated = cooking_power([replace(LINE[0], water=False), *LINE[1:3]])
    told = words_of(page(replace(NOTHING, power=rated)))
    assert "not known 0 of 3 wind at most 2.5 m/s (5.1)" in told
    assert "not met 2 of 3 plain water (6.1)" in told
    assert "met 3 of 3 lid closed" in told
    assert "not met the whole 30 intervals or more (7.7)" in told
    assert "in the manner of ASABE S580.1, not by it" in told
    assert "it promises nothing for a day of yours" in told


def test_an_estimate_is_called_one() -> None:
    light = replace(LINE[0].light, source=type(LINE[0].light.source)("clear sky"))
    rated = cooking_power([replace(i, light=light) for i in LINE[:5]])
    told = words_of(page(replace(NOTHING, power=rated)))
    assert "AN ESTIMATE: no sensor of light" in told
    assert "That is an estimate, not a test." in told


def test_the_table_is_a_picture_for_each_sky_and_told_in_words() -> None:
    cells = [cell(f, m, s) for f in ("bread", "stew") for m in range(1, 13) for s in SKIES]
    basis = Basis(2, 20.0, 1800.0, {"bread": 0.8, "stew": 1.2}, {"stew": "Mind <the> core."})
    html = page(replace(NOTHING, cells=cells, basis=basis))
    assert html.count("<svg") == 2 * len(SKIES)
    told = words_of(html)
    assert "In June bread gets done 9 days of 10 under a clear sky" in told
    assert "stew: all year on clear days; all year under any of these skies. Care: Mind" in told
    assert "Mind &lt;the&gt; core." in html
    assert "A chance is no promise" in told


def test_temperatures_are_those_of_the_household() -> None:
    told = words_of(page(replace(NOTHING, wording=Wording("F"))))
    assert "140\N{NO-BREAK SPACE}°F" in told or "140 °F" in told
    assert "°C" not in told
