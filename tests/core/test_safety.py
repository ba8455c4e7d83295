"""The course of a load: danger, lethality, cooling; what no gap may ever do."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from noonpot.core.cook import Load
from noonpot.core.foods import Food
from noonpot.core.lethality import POULTRY, WATER
from noonpot.core.moment import Moment
from noonpot.core.readings import Reading, Role
from noonpot.core.safety import Course, Safety, Terms, found, seen, unseen
from noonpot.core.safetylog import SafetyLog, safety_log
from noonpot.core.sanity_signs import Sign, SignKind
from simday import at

NOON = at("12:00")
HOUR = 3600.0
TERMS = Terms(POULTRY, limit_s=4 * HOUR)


def moment(seconds: float, *, off_s: float = 0.0) -> Moment:
    """So long after noon; ``off_s`` is how far the wall clock is wrong."""
    return Moment(NOON + timedelta(seconds=seconds + off_s), 5000.0 + seconds)


def log_of(terms: Terms = TERMS, **options: bool) -> SafetyLog:
    log = SafetyLog(NOON, terms, gap_s=30.0, **options)
    log.begin(moment(0))
    return log


def lived(
    log: SafetyLog, temp_c: float, since_s: float, until_s: float, probe: str = "core"
) -> Safety:
    """The core stays at a temperature, read every ten seconds."""
    for second in range(int(since_s), int(until_s) + 1, 10):
        log.hear(probe, moment(second), temp_c)
    return log.at(moment(until_s))


def test_time_in_the_danger_zone_is_counted_to_the_second() -> None:
    log = log_of()
    lived(log, 4.0, 0, 600)
    assert log.at(moment(600)).course.danger_s == 0.0
    log.hear("core", moment(620), 6.0)  # half of this line is below 5 °C
    assert log.at(moment(620)).course.danger_s == pytest.approx(10.0)
    assert lived(log, 6.0, 630, 1220).course.danger_s == pytest.approx(610.0)


def test_food_that_gets_hot_in_time_and_long_enough_is_safe_and_its_clock_starts_anew() -> None:
    log = log_of()
    warm = lived(log, 45.0, 0, 3 * HOUR)
    assert (warm.course.danger_s, warm.course.spoiled, warm.course.safe) == (10_800, False, False)
    hot = lived(log, 70.1, 3 * HOUR + 30, 3 * HOUR + 60)
    assert not hot.course.safe
    assert hot.course.danger_s > 10_800
    done = lived(log, 70.1, 3 * HOUR + 70, 3 * HOUR + 80)
    assert (done.course.safe, done.course.cooked, done.course.danger_s) == (True, True, 0.0)


def test_heat_does_not_mend_what_stood_lukewarm_for_too_long() -> None:
    log = log_of()
    assert lived(log, 45.0, 0, 4 * HOUR - 1).course.spoiled is False
    assert lived(log, 45.0, 4 * HOUR, 4 * HOUR).course.spoiled is True
    mended = lived(log, 95.0, 4 * HOUR + 10, 5 * HOUR)
    assert mended.course.killed > 100
    assert (mended.course.safe, mended.course.spoiled, mended.course.cooked) == (False, True, False)


def test_hot_but_not_for_long_enough_does_not_start_the_clock_anew() -> None:
    log = log_of()
    lived(log, 45.0, 0, HOUR)
    short = lived(log, 63.0, HOUR + 10, HOUR + 600)  # 145 °F asks for 13.8 min
    assert (short.course.safe, short.course.danger_s > HOUR) == (False, True)
    assert 0.6 < short.course.killed < 0.8


def test_a_gap_is_danger_and_unknown_and_kills_nothing_however_hot_it_was() -> None:
    log = log_of()
    lived(log, 45.0, 0, 600)
    before = lived(log, 65.0, 610, 700)
    log.hear("core", moment(700 + 1800), 65.0)
    after = log.at(moment(700 + 1800))
    assert after.course.danger_s == before.course.danger_s + 1800
    assert after.course.unknown_s == 1800
    assert after.course.killed == before.course.killed


def test_while_the_gap_lasts_it_counts_already() -> None:
    log = log_of()
    lived(log, 65.0, 0, 600)
    for waited_s in (40.0, 700.0, 4 * HOUR):
        now = log.at(moment(600 + waited_s))
        assert now.core_c is None
        assert now.course.unknown_s == waited_s
    assert now.course.spoiled is True


def test_cooked_food_after_a_gap_must_be_made_safe_anew() -> None:
    log = log_of()
    lived(log, 20.0, 0, 60)
    assert lived(log, 80.0, 70, 200).course.safe
    log.hear("core", moment(200 + 3 * HOUR), 80.0)
    after = log.at(moment(200 + 3 * HOUR))
    assert (after.course.safe, after.course.danger_s) == (False, 3 * HOUR)
    assert lived(log, 80.0, 210 + 3 * HOUR, 240 + 3 * HOUR).course.danger_s == 0.0


def test_nobody_saw_it_for_more_than_ten_minutes() -> None:
    log = log_of()
    lived(log, 30.0, 0, 60)
    assert log.at(moment(60 + 600)).blind_s is None
    assert log.at(moment(60 + 601)).blind_s == 601
    log.hear("core", moment(60 + 720), 30.0)
    assert lived(log, 30.0, 790, 840).blind_s == 720  # so that it is told
    assert lived(log, 30.0, 850, 910).blind_s is None


def test_food_that_nobody_saw_from_the_start_is_unseen_since_it_was_loaded() -> None:
    log = log_of()
    never = log.at(moment(5 * HOUR))
    assert (never.course.unknown_s, never.course.spoiled, never.blind_s) == (5 * HOUR, True, 18_000)


def test_where_no_probe_is_in_any_food_the_clock_runs_without_calling_it_lost() -> None:
    blind = log_of(watched=False).at(moment(3 * HOUR))
    assert (blind.course.danger_s, blind.blind_s) == (3 * HOUR, None)


def test_the_coldest_probe_counts_and_a_lost_one_makes_the_core_unknown() -> None:
    log = log_of()
    for second in range(0, 601, 10):
        log.hear("middle", moment(second), 52.0)
        log.hear("edge", moment(second), 80.0)
    both = log.at(moment(600))
    assert (both.core_c, both.course.killed) == (52.0, 0.0)
    alone = lived(log, 80.0, 610, 1200, probe="edge")
    assert (alone.core_c, alone.course.killed) == (None, 0.0)
    assert alone.course.danger_s == pytest.approx(1200)


def test_a_probe_that_comes_hot_out_of_the_pot_has_not_cooked_the_food() -> None:
    log = log_of()
    hot = lived(log, 105.0, 0, 300)
    assert (hot.course.killed, hot.course.danger_s) == (0.0, 300.0)
    assert lived(log, 20.0, 330, 600).course.cooked is False
    late = log_of()
    assert lived(late, 80.0, 0, 1190).course.cooked is False
    assert lived(late, 80.0, 1200, 1260).course.cooked is True


def test_a_look_by_hand_that_finds_the_food_colder_takes_back_what_a_probe_has_killed() -> None:
    log = log_of()
    lived(log, 20.0, 0, 600)
    assert lived(log, 72.0, 610, 650).course.killed > 0.5
    log.spot(moment(650), 71.0)  # no thermometer is exact
    assert log.at(moment(650)).course.killed > 0.5
    log.spot(moment(651), 48.0)
    known = log.at(moment(652))
    assert (known.course.killed, known.course.safe, known.core_c) == (0.0, False, 48.0)


def test_a_look_by_hand_kills_nothing_and_what_nobody_saw_stays_unseen() -> None:
    log = log_of()
    lived(log, 20.0, 0, 600)
    log.spot(moment(1500), 85.0)
    known = log.at(moment(1510))
    assert known.core_c == 85.0
    assert (known.course.killed, round(known.course.unknown_s)) == (0.0, 900)
    assert log.at(moment(1540)).core_c is None


def test_what_a_probe_said_out_of_the_food_is_taken_back() -> None:
    log = log_of()
    lived(log, 45.0, 0, 3000)
    assert lived(log, 95.0, 3010, 3120).course.cooked is True  # it has slipped into the hot air
    sign = Sign(SignKind.OUT, "core", 5000.0 + 3120, 45.0, 95.0, 120.0, Role.POT, 96.0)
    log.take(Reading("core", moment(3130).at, 5000.0 + 3130, 95.0), [sign])
    undone = log.at(moment(3130))
    assert (undone.core_c, undone.course.cooked, undone.course.killed) == (None, False, 0.0)
    assert undone.course.danger_s == pytest.approx(3130)
    other = replace(sign, probe="pot")
    log.take(Reading("core", moment(3200).at, 5000.0 + 3200, 46.0), [other])
    assert log.at(moment(3200)).core_c == 46.0


def test_a_probe_that_never_was_in_the_food_has_seen_nothing() -> None:
    log = log_of()
    lived(log, 20.0, 0, 60)
    assert lived(log, 95.0, 70, HOUR).course.cooked is True
    sign = Sign(SignKind.NEVER_IN, "core", 5000.0 + HOUR, 20.0, 95.0, 600.0, Role.POT, 96.0)
    for second in (HOUR + 10, HOUR + 20):
        log.take(Reading("core", moment(second).at, 5000.0 + second, 95.0), [sign])
        undone = log.at(moment(second))
        assert undone.course == Course(danger_s=second, unknown_s=second)


def test_cooling_has_two_stages_and_unseen_time_fails_them() -> None:
    log = log_of()
    lived(log, 20.0, 0, 30)
    lived(log, 80.0, 40, 100)
    assert lived(log, 40.0, 110, 110 + 7100).course.late is None
    assert lived(log, 40.0, 7220, 7320).course.late == (21.0, 7200.0)

    good = log_of()
    lived(good, 20.0, 0, 30)
    lived(good, 80.0, 40, 100)
    lived(good, 40.0, 110, HOUR)
    chilled = lived(good, 20.0, HOUR + 10, 5 * HOUR)
    assert (chilled.course.late, chilled.course.spoiled) == (None, False)
    assert chilled.limit_s == 6 * HOUR
    cold = lived(good, 4.0, 5 * HOUR + 10, 9 * HOUR)
    assert (cold.course.late, cold.course.spoiled) == (None, False)

    unseen_food = log_of()
    lived(unseen_food, 20.0, 0, 30)
    lived(unseen_food, 80.0, 40, 100)
    assert unseen_food.at(moment(100 + 7201)).course.late == (21.0, 7200.0)


def test_food_that_is_made_hot_again_counts_anew_only_once_it_is_safe_again() -> None:
    log = log_of()
    lived(log, 20.0, 0, 30)
    lived(log, 80.0, 40, 100)
    cool = lived(log, 40.0, 110, HOUR)
    assert (cool.course.cooling_s is not None, cool.course.safe) == (True, False)
    again = lived(log, 62.0, HOUR + 10, HOUR + 100)
    assert (again.course.cooling_s, again.course.danger_s > 3000) == (None, True)
    assert lived(log, 80.0, HOUR + 110, HOUR + 150).course.danger_s == 0.0


def test_water_does_not_spoil_and_still_needs_its_minutes() -> None:
    log = log_of(Terms(WATER, 4 * HOUR, spoils=False))
    lukewarm = lived(log, 40.0, 0, 5 * HOUR)
    assert (lukewarm.course.spoiled, lukewarm.course.danger_s) == (False, 0.0)
    assert lived(log, 66.0, 5 * HOUR + 10, 5 * HOUR + 300).course.safe is False
    assert lived(log, 66.0, 5 * HOUR + 310, 5 * HOUR + 400).course.safe is True
    assert log.at(moment(8 * HOUR)).blind_s is None


def test_the_wall_clock_may_jump_as_it_likes() -> None:
    steady, jumping = log_of(), log_of()
    for second in range(0, 4000, 10):
        steady.hear("core", moment(second), 50.0)
        jumping.hear("core", moment(second, off_s=-1e6 * (second > 500)), 50.0)
    assert jumping.at(moment(4000)).course == steady.at(moment(4000)).course


def test_readings_stamped_out_of_order_are_no_news() -> None:
    log = log_of()
    lived(log, 50.0, 0, 100)
    log.hear("core", moment(95), 90.0)
    now = log.at(moment(100))
    assert (now.core_c, now.course.killed) == (50.0, 0.0)


def test_a_monotonic_clock_that_fell_back_by_far_credits_nothing() -> None:
    log = log_of()
    lived(log, 70.0, 1000, 2000)
    danger_s = log.at(moment(2000)).course.danger_s
    log.hear("core", moment(200), 70.0)
    assert log.at(moment(200)).course.danger_s == danger_s
    assert log.at(moment(300)).course.unknown_s >= 100


def test_a_load_told_of_late_has_been_there_since_then() -> None:
    log = SafetyLog(NOON, TERMS, gap_s=30.0)
    log.begin(moment(1200))
    log.hear("core", moment(1210), 20.0)
    assert log.at(moment(1210)).course.danger_s == 1210


def test_readings_from_before_the_load_are_none_of_it() -> None:
    log = SafetyLog(NOON, TERMS, gap_s=30.0)
    log.hear("core", moment(-20), 80.0)
    log.hear("core", moment(0), 20.0)
    assert log.at(moment(0)).course == Course()


def test_only_food_that_can_make_people_ill_is_followed_and_unknown_food_is_taken_for_it() -> None:
    load = Load(NOON, "loaf")
    for food, followed in [
        (Food("bread", 96.0), False),
        (Food("chicken", 82.0, safe_c=74.0), True),
        (None, True),
    ]:
        log = safety_log(load, food, limit_s=HOUR, gap_s=30.0, watched=True)
        assert (log is not None) == followed


def course_of(legs: list[tuple[float, float | None]], start_c: float) -> list[Course]:
    """One course after the other; None in place of a temperature is a gap."""
    course, core_c, courses = Course(), start_c, []
    for seconds, to_c in legs:
        if to_c is None:
            course = unseen(course, TERMS, seconds)
        else:
            course = seen(course, TERMS, seconds, core_c, to_c)
            core_c = to_c
            course = found(course, TERMS, core_c)
        courses.append(course)
    return courses


legs = st.lists(
    st.tuples(st.floats(0.0, 3000.0), st.none() | st.floats(-5.0, 100.0)), min_size=1, max_size=20
)
temps = st.floats(-5.0, 100.0)


@given(legs, temps, st.integers(0, 19), st.floats(1.0, 7200.0))
def test_a_gap_never_adds_lethality_and_never_takes_danger_away(
    lived_through: list[tuple[float, float | None]], start_c: float, place: int, gap_s: float
) -> None:
    *_, course = course_of(lived_through[: place + 1], start_c)
    after = unseen(course, TERMS, gap_s)
    assert after.killed <= course.killed
    assert after.danger_s == course.danger_s + gap_s
    assert after.unknown_s >= course.unknown_s + gap_s - 1e-6
    assert after.spoiled >= course.spoiled
    assert not (after.safe and course.cooked)


@given(legs, temps)
def test_spoiled_food_stays_spoiled_and_is_never_safe(
    lived_through: list[tuple[float, float | None]], start_c: float
) -> None:
    spoiled = False
    for course in course_of(lived_through, start_c):
        assert course.spoiled >= spoiled
        spoiled = course.spoiled
        assert not (spoiled and course.safe)


@given(legs, temps)
def test_danger_is_forgotten_only_when_the_heat_has_killed(
    lived_through: list[tuple[float, float | None]], start_c: float
) -> None:
    danger_s = 0.0
    for course in course_of(lived_through, start_c):
        assert course.danger_s >= danger_s or (course.safe and course.cooked)
        danger_s = course.danger_s
