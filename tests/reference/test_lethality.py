"""Time and temperature that make food safe, against what is printed.

Sources: FDA Food Code 3-401.11, read in a municipal reprint of the text of 2013 and later; USDA
FSIS-GD-2021-14 (Cooking Guideline, revised appendix A, December 2021), tables 2, 3, 4 and 6, read
from the document; Juneja 2001, Bradshaw 1985 and the 70 °C, 2 min of the SANCO guidance as quoted
in abstracts; figures marked "ours" were worked out apart from this program.
"""

import math
from itertools import pairwise

import pytest

from noonpot.core.lethality import (
    FISH,
    LEAST_S,
    MEAT,
    MEAT_6_5,
    MILK,
    MINCED,
    PLANTS,
    POULTRY,
    REHEATED,
    ROAST,
    WATER,
    Curve,
    Steps,
    lethality_s,
)


def minutes_and_seconds(text: str) -> list[tuple[float, float]]:
    """Rows as printed: °F and minutes, or seconds with an s; the unit stays until it changes."""
    rows, unit = [], 60.0
    for word in text.split():
        temp, time = word.split(":")
        unit = 1.0 if time.endswith("s") else 60.0 if time.endswith("m") else unit
        rows.append((float(temp), unit * float(time.rstrip("ms"))))
    return rows


FOOD_CODE_ROAST = minutes_and_seconds(
    "130:112m 131:89 133:56 135:36 136:28 138:18 140:12 142:8 144:5 145:4"
    " 147:134s 149:85 151:54 153:34 155:22 157:14 158:0"
)
FSIS_MEAT_65 = minutes_and_seconds(
    "130:112m 131:89 132:71 133:56 134:45 135:36 136:28 137:23 138:18 139:15 140:12 141:9 142:8"
    " 143:6 144:5 145:4 146:169s 147:134 148:107 149:85 150:67 151:54 152:43 153:34 154:27 155:22"
    " 156:17 157:14 158:0 159:0 160:0"
)
FSIS_MEAT_70 = minutes_and_seconds(
    "130:121m 131:97 132:77 133:62 134:47 135:37 136:32 137:24 138:19 139:15 140:12 141:10 142:8"
    " 143:6 144:5 145:4 146:182s 147:144 148:115 149:91 150:72 151:58 152:46 153:37 154:29 155:23"
    " 156:19 157:15 158:0 159:0 160:0"
)
FSIS_CHICKEN = minutes_and_seconds(
    "136:81.4m 138:52.9 140:35 142:23.5 144:15.9 145:13 146:10.6 148:6.8 150:4.2 152:2.3 154:1.1"
    " 155:54.4s 156:43 158:26.9 160:16.9 161:13.3 162:10.5 163:0 164:0 165:0"
)
FSIS_TURKEY = minutes_and_seconds(
    "136:70.8m 138:48.5 140:33.7 142:23.7 144:16.6 145:13.8 146:11.5 148:7.7 150:4.9 152:2.8"
    " 154:1.6 155:1.3 156:1 158:40.9s 160:26.9 161:21.9 162:17.7 163:14.4 164:11.7 165:0"
)
FSIS_POULTRY = [(c[0], max(c[1], t[1])) for c, t in zip(FSIS_CHICKEN, FSIS_TURKEY, strict=True)]
FOOD_CODE_MINCED = minutes_and_seconds("145:3m 150:1 155:17s 158:0")
TABLES: dict[str, tuple[Steps, list[tuple[float, float]]]] = {
    "roast": (ROAST, FOOD_CODE_ROAST),
    "meat-6.5-log": (MEAT_6_5, FSIS_MEAT_65),
    "meat": (MEAT, FSIS_MEAT_70),
    "poultry": (POULTRY, FSIS_POULTRY),
    "minced": (MINCED, FOOD_CODE_MINCED),
    "fish": (FISH, [(145, 15)]),
    "reheated": (REHEATED, [(165, 15)]),
    "plants": (PLANTS, [(135, 0)]),
    "water": (WATER, [(149, 360)]),
    "milk": (MILK, [(145, 1800), (161, 15)]),  # 21 CFR 1240.61, from memory
}
ROWS = [(name, temp_f, need_s) for name, (_, rows) in TABLES.items() for temp_f, need_s in rows]


@pytest.mark.parametrize(("name", "temp_f", "need_s"), ROWS)
def test_every_printed_row_is_asked_for_and_met_on_the_second(
    name: str, temp_f: float, need_s: float
) -> None:
    table = TABLES[name][0]
    temp_c = (temp_f - 32) / 1.8 + 1e-6
    assert table.needs_s(temp_c) == pytest.approx(need_s)
    asked_s = max(need_s, LEAST_S)
    assert table.dose(asked_s, temp_c, temp_c) == pytest.approx(1.0)
    assert table.dose(asked_s - 1.0, temp_c, temp_c) < 1.0


@pytest.mark.parametrize("name", TABLES)
def test_between_two_rows_the_cooler_one_counts(name: str) -> None:
    table, rows = TABLES[name]
    for (cooler_f, longer_s), (hotter_f, _) in pairwise(rows):
        for share in (0.01, 0.5, 0.99):
            between_c = (cooler_f + share * (hotter_f - cooler_f) - 32) / 1.8
            assert table.needs_s(between_c) == longer_s
    assert table.needs_s((rows[0][0] - 0.1 - 32) / 1.8) == math.inf


COURSE_MIN, COURSE_C = (0, 5, 10, 15, 20, 25, 30), (50, 58, 64, 68, 70, 70, 66)


@pytest.mark.parametrize(
    ("ref_c", "z_k", "exact_min", "trapezoid_min"),
    [(70, 7.5, 13.5822, 14.3614), (60, 6.0, 577.565, 622.463), (70, 10.0, 15.1608, 15.7465)],
)
def test_a_worked_course_is_exact_and_not_credited_like_its_trapezoid(
    ref_c: float, z_k: float, exact_min: float, trapezoid_min: float
) -> None:
    # ours: seven temperatures five minutes apart, integrated by hand and by trapezoids
    legs = list(pairwise(zip(COURSE_MIN, COURSE_C, strict=True)))
    exact = sum(lethality_s(60 * (t1 - t0), a, b, ref_c, z_k) for (t0, a), (t1, b) in legs)
    rates = [10 ** ((c - ref_c) / z_k) for c in COURSE_C]
    assert exact / 60 == pytest.approx(exact_min, rel=1e-5)
    assert sum(5 * (a + b) / 2 for a, b in pairwise(rates)) == pytest.approx(trapezoid_min, 1e-5)
    assert exact_min < 0.97 * trapezoid_min


def test_a_ramp_is_its_closed_form() -> None:
    # ours: 40 to 80 °C at 1 K/min, 7.5 / ln 10 (10^(10/7.5) - 10^(-30/7.5)) min
    closed_min = 7.5 / math.log(10) * (10 ** (10 / 7.5) - 10 ** (-30 / 7.5))
    assert closed_min == pytest.approx(70.1741, abs=5e-5)
    assert lethality_s(2400, 40, 80, 70, 7.5) / 60 == pytest.approx(closed_min, rel=1e-12)


EQUAL_75 = "60:43.1 63:17.2 65:9.28 67:5.02 68:3.70 70:2.00 72:1.08 75:0.43 80:0.09"
EQUAL_60 = "60:92.8 63:29.4 65:13.6 70:2.00 75:0.29"


@pytest.mark.parametrize(("z_k", "printed"), [(7.5, EQUAL_75), (6.0, EQUAL_60)])
def test_what_equals_two_minutes_at_70(z_k: float, printed: str) -> None:
    # six tenths of Listeria monocytogenes; the minutes at other temperatures are ours
    listeria = Curve(d_min=2 / 6, ref_c=70.0, z_k=z_k, log=6.0)
    for temp, minutes in (pair.split(":") for pair in printed.split()):
        need_s = listeria.needs_s(float(temp))
        decimals = len(minutes.partition(".")[2])
        assert f"{need_s / 60:.{decimals}f}" == minutes
        asked_s = max(need_s, LEAST_S)
        assert listeria.dose(asked_s, float(temp), float(temp)) == pytest.approx(1.0)


@pytest.mark.parametrize(("temp_c", "d_min"), [(55, 4.87), (58, 2.72), (60, 1.30), (62, 0.41)])
def test_salmonella_in_broth_dies_as_was_measured(temp_c: float, d_min: float) -> None:
    # Juneja 2001, eight serotypes in chicken broth; z of 6.65 K fitted to these four is ours. The
    # measured points scatter round that line by up to a half.
    salmonella = Curve(d_min=1.30, ref_c=60.0, z_k=6.65, log=1.0)
    assert 0.6 < salmonella.needs_s(temp_c) / 60 / d_min < 1.6


def test_listeria_in_milk_dies_as_was_measured() -> None:
    # Bradshaw 1985: D is 0.9 s at 71.7 °C and 1683.7 s at 52.2 °C, z 6.3 K between
    seconds = 0.9 / lethality_s(1.0, 52.2, 52.2, 71.7, 6.3)
    assert 1 / 1.6 < seconds / 1683.7 < 1.6


def test_six_minutes_at_65_make_water_safe() -> None:
    # R. Metcalf and others: 65 °C (149 °F) for 6 min
    assert WATER.dose(360.0, 65.0, 65.0) == pytest.approx(1.0)
    assert WATER.dose(3600.0, 64.9, 64.9) == 0.0


def test_of_raw_food_the_table_for_poultry_asks_the_most() -> None:
    for temp_f in range(145, 166):
        temp_c = (temp_f - 32) / 1.8 + 1e-6
        others = (ROAST, MEAT, MEAT_6_5, MINCED, FISH)
        least_s = max(max(table.needs_s(temp_c), LEAST_S) for table in others)
        assert max(POULTRY.needs_s(temp_c), LEAST_S) >= least_s, temp_f
