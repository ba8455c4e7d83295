"""What baths make of a probe: the line, its doubt, what is refused, and when to do it anew."""

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from baths import WrongProbe, readings_in
from noonpot.core.bath import Bath, boiling_bath, ice_bath, rest, step_k
from noonpot.core.calibration import (
    LARGEST_K,
    Calibration,
    Point,
    calibrated,
    place_of,
    point,
    standing,
)
from noonpot.core.calibrationletter import detail_of, points_of, told
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import utc
from noonpot.core.readings import Role
from noonpot.core.station import ProbeSpec
from noonpot.core.stationfacts import OWN
from noonpot.errors import CookError

AT = utc("2026-06-03T07:00:00Z")
LOAF = ProbeSpec("loaf", Role.CORE, "w1", "28-01", "box")
SKY = ProbeSpec("sky", Role.IRRADIANCE, "adc", "0")
PLACE = "w1 28-01"
ICE = Point(0.0, 0.5, 0.02, 0.1)
HOT = Point(95.0, 96.4, 0.05, 0.3)


def dipped(bath: Bath, probe: WrongProbe, chance: random.Random) -> Point:
    """What is told as soon as the probe seems to be at rest, not later."""
    heard = readings_in(probe, bath.true_c, 600, chance)
    for end in range(1, len(heard)):
        found = rest(heard[:end], step_k(reading.value for reading in heard[:end]))
        if found is not None and not found.unrest and abs(found.mean_c - bath.true_c) < LARGEST_K:
            return point(bath, found)
    raise AssertionError(f"no rest in ten minutes: {probe}")


def test_simulated_baths_give_the_error_of_the_probe_back_within_the_doubt_that_is_told() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    asked = [0.0, 30.0, 63.0, 90.0]
    misses = 0
    for _ in range(100):
        gain, off_k = 1 + chance.gauss(0, 0.01), chance.gauss(0, 0.7)
        probe = WrongProbe(gain, off_k, noise_k=chance.uniform(0, 0.1))
        probe.lag_s = chance.uniform(4, 25)
        ice, hot = ice_bath(), boiling_bath(1524.0)
        # the baths themselves are off by as much as they are said to be
        points = [
            replace(dipped(replace(b, true_c=real_c), probe, chance), true_c=b.true_c)
            for b in (ice, hot)
            for real_c in [b.true_c + chance.gauss(0, b.doubt_k)]
        ]
        made = calibrated("loaf", PLACE, AT, points)
        for temp_c in asked:
            off = made.true_c(gain * temp_c + off_k) - temp_c
            assert abs(off) < 2.0
            misses += abs(off) > 2 * (made.doubt_k(temp_c) or 0.0)
    # 400 in all, of which 5 % may miss; those of one calibration go together, hence the room
    assert misses <= 50


def test_two_baths_make_both_points_exactly_true() -> None:
    made = calibrated("loaf", PLACE, AT, [HOT, ICE])
    assert made.points == (ICE, HOT)
    assert made.true_c(0.5) == pytest.approx(0.0, abs=1e-9)
    assert made.true_c(96.4) == pytest.approx(95.0)
    assert made.gain == pytest.approx(95 / 95.9)
    assert made.spread_k == 0.05


def test_between_the_baths_the_doubt_is_least_and_beyond_them_it_grows() -> None:
    made = calibrated("loaf", PLACE, AT, [ICE, HOT])
    doubts = [made.doubt_k(temp_c) or 0.0 for temp_c in (0.0, 10.0, 95.0, 150.0)]
    assert doubts[0] == pytest.approx(0.1)
    assert doubts[2] == pytest.approx(0.3)
    assert doubts[1] < doubts[0] < doubts[2] < doubts[3]


def test_one_bath_moves_all_by_one_number() -> None:
    made = calibrated("loaf", PLACE, AT, [ICE])
    assert (made.gain, made.offset_k) == (1.0, -0.5)
    assert made.doubt_k(80.0) == 0.1
    assert calibrated("loaf", PLACE, AT, []).doubt_k(80.0) is None


def test_a_probe_that_is_off_by_more_than_five_kelvins_is_not_bent_straight() -> None:
    heard = readings_in(WrongProbe(off_k=5.4, tip_c=0.0), 0.0, 200, random.Random(1))
    found = rest(heard, 0.0625)
    assert found is not None
    with pytest.raises(CookError, match="wrong bath, bubbles at the tip, a tip not deep enough"):
        point(ice_bath(), found)


@pytest.mark.parametrize(
    "points",
    [
        [ICE, Point(20.0, 20.1, 0.02, 0.1)],
        [ICE, HOT, HOT],
        [Point(95.0, 89.0, 0.05, 0.3)],
        [Point(300.0, 300.0, 0.05, 0.3)],
        [Point(float("nan"), 0.0, 0.05, 0.3)],
    ],
)
def test_points_that_make_no_line_are_refused(points: list[Point]) -> None:
    with pytest.raises(CookError, match="loaf: "):
        calibrated("loaf", PLACE, AT, points)


def event(made: Calibration, **changes: str) -> Event:
    return Event(OWN, AT, EventKind.CALIBRATE, {**detail_of(made), **changes})


def test_an_event_tells_the_same_calibration() -> None:
    for points in ([ICE, HOT], [ICE], []):
        made = calibrated("loaf", PLACE, AT, points)
        assert told(event(made), [LOAF, SKY]) == made


def test_gain_and_offset_follow_from_what_was_measured_whatever_a_letter_says() -> None:
    made = calibrated("loaf", PLACE, AT, [ICE, HOT])
    assert told(event(made, gain="3", offset_k="40"), [LOAF]) == made


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"probe": "laof"}, "there is no probe 'laof'; did you mean loaf?"),
        ({"probe": "sky"}, "sky measures sunlight; only thermometers are calibrated in a bath"),
        ({"place": "w1 28-02"}, "loaf was calibrated at 'w1 28-02', but answers at 'w1 28-01'"),
        ({"points": "0/0/0"}, "loaf: the point '0/0/0' is not true/shown/spread/doubt"),
        ({"points": "0/nan/0/0"}, "loaf: the point '0/nan/0/0' holds a number that cannot be"),
        ({"points": "0/0/-1/0"}, "holds a number that cannot be"),
        ({"points": "0/7/0/0.1"}, "loaf: 7.00 °C in a bath of 0.00 °C is no calibration"),
    ],
)
def test_a_letter_that_cannot_be_is_refused_with_its_reason(
    change: dict[str, str], sentence: str
) -> None:
    made = calibrated("loaf", PLACE, AT, [ICE])
    with pytest.raises(CookError) as refused:
        told(event(made, **change), [LOAF, SKY])
    assert sentence in str(refused.value)


def test_points_are_read_as_they_were_written() -> None:
    assert points_of("0.0000/0.5000/0.0200/0.1000 95.0000/96.4000/0.0500/0.3000") == (ICE, HOT)
    assert points_of("") == ()


@pytest.mark.parametrize(
    ("last", "days", "due", "words"),
    [
        (None, 0, True, "not calibrated; 'noonpot probes calibrate loaf' makes it truer"),
        (calibrated("loaf", PLACE, AT, []), 1, True, "not calibrated"),
        (calibrated("loaf", PLACE, AT, [ICE]), 365, False, "calibrated on 2026-06-03"),
        (calibrated("loaf", PLACE, AT, [ICE]), 366, True, "more than a year ago; do it anew"),
        (calibrated("loaf", "w1 28-02", AT, [ICE]), 1, True, "calibrated at another place"),
    ],
)
def test_an_old_calibration_is_to_be_done_anew(
    last: Calibration | None, days: int, due: bool, words: str
) -> None:
    stands = standing(last, LOAF, AT + timedelta(days=days))
    assert stands.due is due
    assert words in stands.words
    assert place_of(LOAF) == PLACE
