"""The station's own alarms: each at its limit, unknown where nothing is known, and in few words."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.alarms import AlarmState, fresh
from noonpot.core.moment import Moment
from noonpot.core.rules import STATION_RULES
from noonpot.core.stationfacts import (
    OWN,
    Absence,
    Backup,
    Mended,
    Silent,
    StationFacts,
    Step,
    StoreTrouble,
    Survey,
)
from noonpot.core.wording import PHONE_LENGTH
from stationcases import AT, FACTS, judged, surveyed

HOUR_S, DAY_S, YEAR_S = 3600.0, 86_400.0, 31_557_600.0
DOWN = Silent("mqtt", 720.0, "no broker answers at localhost port 1883; check it", 3)


def active(facts: StationFacts) -> list[str]:
    return [name for name, condition in judged(facts).items() if condition.active]


def test_a_station_in_good_order_has_nothing_to_say() -> None:
    assert {c.active for c in judged(FACTS).values()} == {False}


def test_without_a_survey_only_the_clock_is_known() -> None:
    told = judged(replace(FACTS, survey=None))
    assert {name for name, c in told.items() if c.active is None} == STATION_RULES.keys() - {
        "clock"
    }


def test_a_machine_without_flags_is_unknown_not_well() -> None:
    assert judged(surveyed(heat_c=None, under_voltage=None))["power"].active is None
    assert judged(surveyed(under_voltage=None))["power"].active is False


def test_a_clock_that_is_not_set_is_said_with_what_goes_on() -> None:
    condition = judged(replace(FACTS, clock_trusted=False))["clock"]
    assert condition.active
    assert "Temperature and safety alarms go on" in condition.text


@pytest.mark.parametrize(
    ("shift_s", "ago_s", "expected"),
    [
        (59.0, 1.0, False),
        (-60.0, 1.0, True),
        (HOUR_S, 599.0, True),
        (HOUR_S, 601.0, False),
        (56 * YEAR_S, 5.0, True),
    ],
)
def test_a_clock_that_jumps_after_it_was_set_is_told_for_a_while(
    shift_s: float, ago_s: float, expected: bool
) -> None:
    assert judged(replace(FACTS, step=Step(shift_s, ago_s)))["clock"].active is expected


def test_a_jump_is_told_with_its_direction() -> None:
    assert "corrected by -60 min" in judged(replace(FACTS, step=Step(-HOUR_S, 1)))["clock"].text
    assert "corrected by +26 h" in judged(replace(FACTS, step=Step(26 * HOUR_S, 1)))["clock"].text


@pytest.mark.parametrize(
    ("changes", "subject"),
    [
        ({"free_mb": 199.0}, "nearly-full"),
        ({"days_left": 6.9}, "nearly-full"),
        ({"slowest_write_s": 5.0}, "slow"),
        ({"wal_mb": 16.0}, "unmerged"),
        ({"wal_mb": 20.0, "free_mb": 10.0}, "nearly-full"),
    ],
)
def test_the_card_gives_notice(changes: dict[str, float], subject: str) -> None:
    condition = judged(surveyed(**changes))["storage"]
    assert (condition.active, condition.subject) == (True, subject)


@pytest.mark.parametrize(
    "changes",
    [{"free_mb": 200.0}, {"days_left": 7.0}, {"slowest_write_s": 4.9}, {"wal_mb": 15.9}],
)
def test_a_card_just_good_enough_is_left_alone(changes: dict[str, float]) -> None:
    assert judged(surveyed(**changes))["storage"].active is False


def test_a_card_nearly_full_ends_only_above_its_deadband() -> None:
    known = replace(
        fresh(OWN, "storage", Moment(AT, 0.0)), state=AlarmState.ACKNOWLEDGED, subject="nearly-full"
    )
    assert judged(surveyed(free_mb=219.0), known)["storage"].active is True
    assert judged(surveyed(free_mb=220.0), known)["storage"].active is False


@pytest.mark.parametrize("trouble", StoreTrouble)
def test_what_cannot_be_written_is_told_even_when_nothing_else_is_known(
    trouble: StoreTrouble,
) -> None:
    condition = judged(replace(FACTS, trouble=trouble, survey=None))["storage"]
    assert (condition.active, condition.subject) == (True, trouble.value)
    assert "alarms go on" in condition.text


@pytest.mark.parametrize(
    ("restored", "came"),
    [
        (datetime(2026, 6, 3, 3, 2, tzinfo=UTC), "that of 3 Jun 03:02 is in its place"),
        (None, "a new one is begun"),
    ],
)
def test_a_data_file_that_was_mended_is_told_with_what_to_do(
    restored: datetime | None, came: str
) -> None:
    mended = Mended(Moment(AT, 0.0), "noonpot-damaged-2026-06-03T1210Z.db", restored)
    condition = judged(replace(FACTS, mended=mended, survey=None))["storage"]
    assert (condition.active, condition.subject) == (True, "mended")
    assert came in condition.text
    assert "look at the food" in condition.text
    assert "noonpot-damaged-2026-06-03T1210Z.db" in condition.text
    assert len(condition.text) <= PHONE_LENGTH


def test_a_data_file_of_a_newer_program_is_told_with_what_to_do() -> None:
    mended = Mended(Moment(AT, 0.0), "noonpot-meanwhile.db", None, newer=True)
    condition = judged(replace(FACTS, mended=mended, survey=None))["storage"]
    assert (condition.active, condition.subject) == (True, "newer")
    assert "readings go to noonpot-meanwhile.db" in condition.text
    assert "'noonpot cook start'" in condition.text
    assert len(condition.text) <= PHONE_LENGTH


def test_a_card_that_could_not_be_written_at_the_start_is_told_with_what_to_do() -> None:
    mended = Mended(Moment(AT, 0.0), "", None, unwritable=True)
    condition = judged(replace(FACTS, mended=mended, survey=None))["storage"]
    assert (condition.active, condition.subject) == (True, "unwritable")
    assert "all is in memory" in condition.text
    assert "start it again" in condition.text
    assert len(condition.text) <= PHONE_LENGTH


def test_a_backup_that_fails_is_told_once_the_last_good_one_is_three_days_old() -> None:
    problem = "no room for a backup of 130 MB in /b, where 90 MB are free; free some space"
    young = Backup(AT - timedelta(days=2.9), problem)
    assert judged(surveyed(backup=young))["storage"].active is False
    old = Backup(AT - timedelta(days=3), problem)
    condition = judged(surveyed(backup=old))["storage"]
    assert (condition.active, condition.subject) == (True, "no-backup")
    assert "no backup since 31 May 12:15: no room for a backup of 130 MB" in condition.text
    assert judged(replace(surveyed(backup=old), clock_trusted=False))["storage"].active is False


def test_a_backup_that_was_never_made_is_missed_at_its_first_failure() -> None:
    assert judged(surveyed(backup=Backup(None)))["storage"].active is False
    condition = judged(surveyed(backup=Backup(None, "the folder is not there")))["storage"]
    assert "no backup yet: the folder is not there." in condition.text


def test_an_old_backup_is_no_alarm_while_none_has_failed() -> None:
    away_for_the_winter = Backup(AT - timedelta(days=90))
    assert judged(surveyed(backup=away_for_the_winter))["storage"].active is False


def test_damage_that_a_backup_found_is_told_at_once() -> None:
    found = Backup(AT - timedelta(hours=9), "data file damaged", damaged=True)
    condition = judged(surveyed(backup=found))["storage"]
    assert (condition.active, condition.subject) == (True, "unsound")
    assert "Restart Noonpot" in condition.text


def test_a_silent_channel_is_told_with_time_number_and_what_goes_on() -> None:
    text = judged(surveyed(silent=(DOWN,)))["link"].text
    assert "mqtt off since 12:03: 3 messages wait, alarms go by push." in text
    assert text.endswith("Reason: no broker answers at localhost port 1883.")


def test_without_any_channel_nobody_is_promised_anything() -> None:
    down = replace(DOWN, waiting=0)
    condition = judged(surveyed(silent=(down, replace(down, channel="push"))))["link"]
    assert condition.subject == "mqtt,push"
    assert "mqtt and push off since 12:03: no way to reach you." in condition.text


def test_a_time_of_day_is_not_told_by_a_clock_that_is_not_set() -> None:
    facts = replace(surveyed(silent=(DOWN,)), clock_trusted=False)
    assert "mqtt off for 12 min" in judged(facts)["link"].text


@pytest.mark.parametrize(("heat_c", "expected"), [(79.9, False), (80.0, True)])
def test_a_hot_processor_is_told_in_the_readers_unit(heat_c: float, expected: bool) -> None:
    condition = judged(surveyed(heat_c=heat_c), units="F")["power"]
    assert condition.active is expected
    assert not expected or "176 °F" in condition.text


def test_a_weak_supply_goes_before_heat() -> None:
    assert judged(surveyed(heat_c=90.0, under_voltage=True))["power"].subject == "weak"


@pytest.mark.parametrize(("restarts", "expected"), [(3, False), (4, True)])
def test_crashing_again_and_again_is_told(restarts: int, expected: bool) -> None:
    absence = Absence(5.0, 10.0, restarts)
    assert judged(surveyed(absence=absence))["restart"].active is expected


@pytest.mark.parametrize(
    ("absence", "expected"),
    [
        (Absence(299.0, 10.0, 1), False),
        (Absence(300.0, 10.0, 1), True),
        (Absence(5000.0, 601.0, 1), False),
        (Absence(None, 5000.0, 1), True),
    ],
)
def test_an_absence_counts_while_food_is_in_the_cookers_care(
    absence: Absence, expected: bool
) -> None:
    cooking = replace(surveyed(absence=absence), cooking=True)
    assert judged(cooking)["restart"].active is expected
    assert judged(replace(cooking, cooking=False))["restart"].active is False


def test_an_absence_is_told_as_unsafe_time() -> None:
    away = replace(surveyed(absence=Absence(720.0, 300.0, 1)), cooking=True)
    text = judged(away)["restart"].text
    assert "was off for about 12 min, until 12:10. Count that time as unsafe" in text
    assert "12:10" not in judged(replace(away, clock_trusted=False))["restart"].text
    unknown = replace(surveyed(absence=Absence(None, 30.0, 1)), cooking=True)
    assert "nobody knows how long" in judged(unknown)["restart"].text


WORST = Survey(
    mono_s=0.0,
    free_mb=123_456.0,
    days_left=0.4,
    wal_mb=98_765.0,
    slowest_write_s=86_400.0,
    heat_c=100.0,
    silent=tuple(Silent(name, 9e6, "x" * 150, 1000) for name in ("mqtt", "push")),
    channels=("mqtt", "push"),
    absence=Absence(9e6, 10.0, 1000),
)
WORST_CASES = [
    replace(FACTS, survey=WORST, step=Step(-56 * YEAR_S, 1.0)),
    replace(FACTS, survey=replace(WORST, free_mb=100.0, under_voltage=True), clock_trusted=False),
    replace(FACTS, survey=replace(WORST, days_left=None)),
    replace(FACTS, survey=replace(WORST, days_left=None, slowest_write_s=1.0)),
    *(replace(FACTS, trouble=trouble) for trouble in StoreTrouble),
    replace(FACTS, cooking=True, survey=replace(WORST, absence=Absence(9e6, 10.0, 0))),
    replace(FACTS, cooking=True, survey=replace(WORST, absence=Absence(None, 10.0, 0))),
    replace(FACTS, survey=replace(WORST, silent=(replace(DOWN, reason="y" * 300),))),
]


@pytest.mark.parametrize("facts", WORST_CASES)
@pytest.mark.parametrize("units", ["C", "F"])
def test_every_text_fits_a_phone_and_says_which_station(facts: StationFacts, units: str) -> None:
    named = replace(facts, station="the-longest-name-that-a-station-may-hav1")
    told = [c for c in judged(named, units=units).values() if c.active]
    assert told
    for condition in told:
        assert condition.text.startswith(f"station {named.station}: "), condition.text
        assert len(condition.text) <= PHONE_LENGTH, (len(condition.text), condition.text)
