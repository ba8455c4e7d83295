"""What the neighbours in time decide, sample by sample."""

import random
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

import pytest

from noonpot.core.filtering import ProbeFilter
from noonpot.core.readings import Fault, FaultKind, Reading, Sample

START = datetime(2026, 6, 3, 9, 0, tzinfo=UTC)
START_VALUE_C = 85.0
LSB_C = 0.0625


def reading(value: float, at_s: float, doubt: FaultKind | None = None) -> Reading:
    """A reading as a DS18B20 bus makes it: the start value comes with its doubt."""
    if value == START_VALUE_C:
        doubt = FaultKind.POWER_ON_VALUE
    return Reading("loaf", START + timedelta(seconds=at_s), at_s, value, doubt)


def fault(kind: FaultKind, at_s: float) -> Fault:
    return Fault("loaf", START + timedelta(seconds=at_s), at_s, kind)


def verdicts(
    samples: Iterable[Sample], probe_filter: ProbeFilter | None = None
) -> list[float | FaultKind]:
    """The values believed and the faults named, in order."""
    probe_filter = probe_filter or ProbeFilter()
    judged = [probe_filter.accept(sample) for sample in samples]
    return [each.value if isinstance(each, Reading) else each.kind for each in judged]


def every_2_s(*values: float) -> list[Reading]:
    return [reading(value, 2.0 * step) for step, value in enumerate(values)]


def test_an_ordinary_reading_passes_unchanged() -> None:
    sample = reading(42.5, 0)
    assert ProbeFilter().accept(sample) is sample


def test_a_fault_passes_unchanged() -> None:
    sample = fault(FaultKind.CHECKSUM, 0)
    assert ProbeFilter().accept(sample) is sample


def test_85_amid_its_neighbours_is_a_temperature_without_doubt() -> None:
    probe_filter = ProbeFilter()
    probe_filter.accept(reading(84.9375, 0))
    assert probe_filter.accept(reading(85.0, 2)) == Reading(
        "loaf", START + timedelta(seconds=2), 2, 85.0
    )


def test_85_out_of_nothing_is_a_start_value() -> None:
    assert verdicts(every_2_s(85.0, 85.0, 85.0)) == [FaultKind.POWER_ON_VALUE] * 3


def test_start_values_never_become_a_new_level_however_many_agree() -> None:
    assert verdicts(every_2_s(40.0, *[85.0] * 10, 40.25)) == [
        40.0,
        *[FaultKind.POWER_ON_VALUE] * 10,
        40.25,
    ]


def test_a_probe_that_starts_anew_at_every_read_is_found_out_within_ten_minutes() -> None:
    samples = [reading(84.0, 0), *(reading(85.0, at_s) for at_s in range(10, 1210, 10))]
    believed = verdicts(samples)
    assert believed[:61] == [84.0, *[85.0] * 60]
    assert believed[61:] == [FaultKind.POWER_ON_VALUE] * 60


@pytest.mark.parametrize(
    ("before", "believed"),
    [(79.9375, False), (80.0, True), (90.0, True), (90.0625, False)],
)
def test_85_is_near_whatever_is_not_more_than_five_degrees_away(
    before: float, believed: bool
) -> None:
    assert (verdicts(every_2_s(before, 85.0))[1] == START_VALUE_C) is believed


def test_85_must_not_come_faster_than_the_probe_can_change() -> None:
    slow = ProbeFilter(max_rate_c_s=1.0)
    assert verdicts(every_2_s(82.0, 85.0), slow) == [82.0, FaultKind.POWER_ON_VALUE]
    assert verdicts(every_2_s(82.0, 85.0)) == [82.0, 85.0]


def test_a_stale_reading_is_a_fault_and_vouches_for_nothing() -> None:
    samples = [reading(84.5, 0, FaultKind.STALE), reading(85.0, 2)]
    assert verdicts(samples) == [FaultKind.STALE, FaultKind.POWER_ON_VALUE]


def ramp_through_85(chance: random.Random) -> list[Reading]:
    """A temperature on its way through 85 °C at 0.1 to 2 °C/min, either way, as the sensor's
    steps of 1/16 °C show it."""
    rate_c_min = chance.uniform(0.1, 2.0) * chance.choice([-1, 1])
    poll_s = chance.uniform(1.0, min(10.0, 60 * LSB_C / abs(rate_c_min)))
    from_c = START_VALUE_C - chance.uniform(0.2, 4.0) * (1 if rate_c_min > 0 else -1)
    duration_s = 2 * abs(START_VALUE_C - from_c) / abs(rate_c_min) * 60
    return [
        reading(round((from_c + rate_c_min * at_s / 60) / LSB_C) * LSB_C, at_s)
        for at_s in (poll_s * step for step in range(int(duration_s / poll_s)))
    ]


def test_every_ramp_through_85_is_believed() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    for _ in range(100):
        samples = ramp_through_85(chance)
        assert START_VALUE_C in [sample.value for sample in samples]
        assert verdicts(samples) == [sample.value for sample in samples]


def leap_to_85(chance: random.Random) -> list[Reading]:
    """A steady temperature below 80 or above 90 °C, and then the start value some times."""
    level_c = chance.choice([chance.uniform(-10, 79.8), chance.uniform(90.2, 120)])
    poll_s = chance.uniform(1.0, 10.0)
    values = [level_c + LSB_C * chance.randrange(-2, 3) for _ in range(chance.randrange(1, 20))]
    values += [START_VALUE_C] * chance.randrange(1, 6)
    return [reading(value, poll_s * step) for step, value in enumerate(values)]


def test_every_leap_to_85_is_refused() -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    chance = random.Random(seed)
    for _ in range(100):
        samples = leap_to_85(chance)
        expected = [
            FaultKind.POWER_ON_VALUE if sample.value == START_VALUE_C else sample.value
            for sample in samples
        ]
        assert verdicts(samples) == expected


def test_a_single_spike_is_refused_and_the_old_level_goes_on() -> None:
    assert verdicts(every_2_s(60.0, 60.25, 160.0, 60.5)) == [60.0, 60.25, FaultKind.JUMP, 60.5]


def test_a_spike_that_comes_back_between_good_readings_is_never_believed() -> None:
    assert verdicts(every_2_s(*[60.0, 160.0] * 6)) == [60.0, FaultKind.JUMP] * 6


def test_a_probe_moved_into_hot_food_is_believed_at_the_third_agreeing_reading() -> None:
    assert verdicts(every_2_s(22.0, 90.0, 91.0, 91.5, 91.75)) == [
        22.0,
        FaultKind.JUMP,
        FaultKind.JUMP,
        91.5,
        91.75,
    ]


def test_wild_readings_never_agree() -> None:
    wild = [150.0, 60.0, 170.0, 75.0, 130.0, 10.0] * 3
    assert verdicts(every_2_s(20.0, *wild))[1:].count(FaultKind.JUMP) >= len(wild) - 3
    assert not {150.0, 170.0, 130.0} & set(verdicts(every_2_s(20.0, *wild)))


def test_a_fault_in_between_breaks_the_agreement() -> None:
    samples: list[Sample] = [
        reading(20.0, 0),
        reading(90.0, 2),
        reading(90.0, 4),
        fault(FaultKind.FRAME_ERROR, 6),
        reading(90.0, 8),
        reading(90.0, 10),
        reading(90.0, 12),
    ]
    assert verdicts(samples)[4:] == [FaultKind.JUMP, FaultKind.JUMP, 90.0]


def test_what_is_too_fast_depends_on_the_probe_and_on_the_time_between() -> None:
    slow = ProbeFilter(max_rate_c_s=1.0)
    samples = [reading(20.0, 0), reading(25.0, 2), reading(20.0, 4), reading(79.0, 64)]
    assert verdicts(samples, slow) == [20.0, FaultKind.JUMP, 20.0, 79.0]
    assert verdicts(samples[:2]) == [20.0, 25.0]


def test_noise_between_two_quick_reads_is_no_leap() -> None:
    assert verdicts([reading(20.0, 0), reading(22.0, 0.01)]) == [20.0, 22.0]


def test_a_rate_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"largest rate 0 °C/s must be above 0"):
        ProbeFilter(max_rate_c_s=0)


def active_after(pattern: str) -> list[bool]:
    """Whether a fault is active after each sample; in the pattern "." is good, "x" bad."""
    probe_filter, active = ProbeFilter(), []
    for step, mark in enumerate(pattern):
        at_s = 2.0 * step
        good = mark == "."
        probe_filter.accept(reading(50.0, at_s) if good else fault(FaultKind.CHECKSUM, at_s))
        active.append(probe_filter.active_fault is not None)
    return active


@pytest.mark.parametrize(
    ("pattern", "active"),
    [
        ("xx", "--"),
        ("xxx", "--+"),
        ("x.x.x", "----+"),
        ("x..x..x..x", "----------"),
        ("xxx....", "--+++++"),
        ("xxx.....", "--+++++-"),
        ("xxx....x.....", "--++++++++++-"),
        (".....", "-----"),
    ],
)
def test_a_fault_is_active_after_three_bad_of_five_and_gone_after_five_good(
    pattern: str, active: str
) -> None:
    assert active_after(pattern) == [mark == "+" for mark in active]


def test_the_active_fault_bears_the_commonest_name_and_the_latest_among_equals() -> None:
    probe_filter = ProbeFilter()
    seen = []
    for step, kind in enumerate(
        [
            FaultKind.CHECKSUM,
            FaultKind.CHECKSUM,
            FaultKind.GARBLED,
            FaultKind.GARBLED,
            FaultKind.GARBLED,
        ]
    ):
        probe_filter.accept(fault(kind, 2.0 * step))
        seen.append(probe_filter.active_fault)
    assert seen == [None, None, FaultKind.CHECKSUM, FaultKind.GARBLED, FaultKind.GARBLED]


def test_a_refused_reading_counts_as_bad() -> None:
    probe_filter = ProbeFilter()
    for sample in every_2_s(20.0, 85.0, 85.0, 85.0):
        probe_filter.accept(sample)
    assert probe_filter.active_fault is FaultKind.POWER_ON_VALUE


def test_moving_a_probe_raises_no_fault() -> None:
    probe_filter = ProbeFilter()
    for sample in every_2_s(20.0, 20.0, 20.0, 95.0, 95.5, 96.0, 96.0):
        probe_filter.accept(sample)
        assert probe_filter.active_fault is None
