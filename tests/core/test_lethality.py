"""Lethality: what must hold for every course, whatever the numbers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.lethality import LEAST_C, TABLES, Curve, Lethality, Steps, seconds_between

LISTERIA = Curve(d_min=2 / 6, ref_c=70.0, z_k=7.5, log=6.0)
ALL: list[Lethality] = [*TABLES.values(), LISTERIA]
lethalities = st.sampled_from(ALL)
temps = st.floats(-20.0, 120.0)
times = st.floats(0.0, 7200.0)


@given(lethalities, times, temps, temps)
def test_no_line_takes_lethality_away(what: Lethality, seconds: float, a: float, b: float) -> None:
    dose = what.dose(seconds, a, b)
    assert dose >= 0.0
    assert math.isfinite(dose)


@given(lethalities, times, temps, temps, st.floats(0.0, 30.0), st.floats(0.0, 30.0))
def test_hotter_never_gives_less(
    what: Lethality, seconds: float, a: float, b: float, more_a: float, more_b: float
) -> None:
    hotter = what.dose(seconds, a + more_a, b + more_b)
    assert hotter >= what.dose(seconds, a, b) * (1 - 1e-9) - 1e-9


@given(lethalities, times, temps, temps, st.floats(0.0, 1.0))
def test_splitting_a_line_changes_nothing(
    what: Lethality, seconds: float, a: float, b: float, share: float
) -> None:
    middle = a + share * (b - a)
    parts = what.dose(share * seconds, a, middle) + what.dose((1 - share) * seconds, middle, b)
    assert parts == pytest.approx(what.dose(seconds, a, b), rel=1e-6, abs=1e-6)


@given(lethalities, times, temps, temps)
def test_up_is_as_good_as_down(what: Lethality, seconds: float, a: float, b: float) -> None:
    assert what.dose(seconds, a, b) == pytest.approx(what.dose(seconds, b, a), rel=1e-6, abs=1e-9)


@given(lethalities, times, st.floats(-20.0, LEAST_C - 1e-6), st.floats(-20.0, LEAST_C - 1e-6))
def test_nothing_is_credited_below_54_degrees(
    what: Lethality, seconds: float, a: float, b: float
) -> None:
    assert what.dose(seconds, a, b) == 0.0


@given(times, temps, temps, st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_a_line_is_below_between_and_above(
    seconds: float, a: float, b: float, low: float, width: float
) -> None:
    high = low + width
    parts = [(-math.inf, low), (low, high), (high, math.inf)]
    assert sum(seconds_between(seconds, a, b, *part) for part in parts) == pytest.approx(seconds)


@given(lethalities, temps)
def test_no_single_false_reading_makes_food_safe(what: Lethality, temp_c: float) -> None:
    # between two readings two seconds apart
    assert what.dose(2.0, temp_c, 20.0) + what.dose(2.0, 20.0, temp_c) < 0.3


@pytest.mark.parametrize(
    "rows",
    [(), ((60.0, 10.0), (60.0, 5.0)), ((60.0, 10.0), (65.0, 11.0)), ((65.0, 1.0), (60.0, 1.0))],
)
def test_a_table_that_is_none_is_refused(rows: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="row"):
        Steps(rows)


@pytest.mark.parametrize("numbers", [(0.0, 7.5, 6.0), (0.3, 0.0, 6.0), (0.3, 7.5, 0.0)])
def test_a_curve_needs_numbers_above_nought(numbers: tuple[float, float, float]) -> None:
    d_min, z_k, log = numbers
    with pytest.raises(ValueError, match="must be above 0"):
        Curve(d_min=d_min, ref_c=70.0, z_k=z_k, log=log)
