"""What has its tests beside the code it is about, run again at other seeds: full length only."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from faults.extent import FULL, Tell, chance

ROOT = Path(__file__).parents[2]
LIMIT_S = 600.0
# Row: what is promised, how often it is tried, and the tests, whole modules or single ones.
ROWS: dict[int, tuple[str, int, tuple[str, ...]]] = {
    7: (
        "threads, callbacks and jobs that die are healed and counted",
        3,
        (
            "engine/test_crew.py",
            "app/test_life.py::test_threads_that_die_are_replaced_and_the_signs_of_life_go_on",
            "engine/test_poller.py::test_a_thread_that_dies_is_replaced_and_counted",
            "notify/test_connection.py::test_a_dead_network_thread_is_noticed_and_replaced",
            "notify/test_connection.py::test_a_failing_listener_neither_ends_the_network_thread_nor_stays_unseen",
            "notify/test_remote.py::test_a_failing_desk_neither_ends_the_network_thread_nor_stays_unseen",
        ),
    ),
    8: (
        "a push service that is away, slow or refuses; a black hole",
        2,
        ("notify/test_push.py", "notify/test_two_channels.py", "e2e/test_push.py"),
    ),
    9: ("a time-series server that is away or refuses", 2, ("uplink",)),
    10: (
        "clock steps of 2 s to 1 d either way, +56 and -10 years",
        1,
        ("engine/test_clock_steps.py", "engine/test_clockguard.py", "test_schedule.py"),
    ),
    11: (
        "every sensor fault named, none on healthy days",
        1,
        (
            "faults/test_fault_catalogue.py",
            "hw/test_ds18b20.py",
            "hw/test_max31855.py",
            "core/test_sanity.py",
            "core/test_sanity_garden.py",
        ),
    ),
    12: (
        "100 ramps through 85 °C believed, 100 leaps to it refused",
        20,
        (
            "core/test_filtering.py::test_every_ramp_through_85_is_believed",
            "core/test_filtering.py::test_every_leap_to_85_is_refused",
        ),
    ),
    13: (
        "a hung bus is named and delays no other",
        5,
        (
            "engine/test_poller.py::test_a_hung_bus_is_named_and_delays_no_other_bus",
            "engine/test_poller.py::test_what_a_hung_read_says_later_is_dropped",
            "app/test_life.py::test_a_frozen_bus_is_named_and_worth_no_restart",
        ),
    ),
    14: (
        "24 h of noise round each threshold raise once, clouds of 10 to 120 s tell once in 10 min",
        20,
        (
            "core/test_rules_cooking.py::test_noise_round_a_threshold_raises_an_alarm_once_a_day_at_most",
            "engine/test_answers.py::test_clouds_that_pass_in_seconds_bring_no_flood_of_messages",
        ),
    ),
    16: (
        "150 random lives of an alarm with kills against a second life cycle",
        10,
        ("core/test_alarm_model.py", "store/test_kill.py"),
    ),
    18: ("signs of life follow progress", 3, ("app/test_life.py", "test_sdnotify.py")),
    22: (
        "commands unauthorised, retained, stale, oversized or damaged do nothing and are counted",
        3,
        (
            "notify/test_commands.py",
            "notify/test_remote.py",
            "notify/test_access.py",
            "app/test_hearing.py",
        ),
    ),
}


@pytest.mark.parametrize("row", ROWS)
def test_the_tests_of_a_row_are_there(row: int) -> None:
    for node in ROWS[row][2]:
        path, _, name = node.partition("::")
        assert (ROOT / "tests" / path).exists(), node
        assert not name or f"def {name}(" in (ROOT / "tests" / path).read_text(), node


@pytest.mark.skipif(not FULL, reason="all of them run once among all tests")
@pytest.mark.parametrize("row", ROWS)
def test_the_tests_of_a_row_pass_at_any_seed(row: int, figure: Tell) -> None:
    promise, times, nodes = ROWS[row]
    luck = chance()
    passed = failed = 0
    for _ in range(times):
        good, bad = outcome(nodes, luck.randrange(2**32))
        passed, failed = passed + good, failed + bad
    figure(row, promise, f"{failed} of {passed + failed} tests failed, in {times} runs", "0")
    assert passed > 0
    assert failed == 0


def outcome(nodes: tuple[str, ...], seed: int) -> tuple[int, int]:
    """How many tests passed and how many did not, at this seed. What failed is printed."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n0", f"--randomly-seed={seed}"]
        + [f"tests/{node}" for node in nodes],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
    )
    if done.returncode != 0:
        print(f"ended with {done.returncode}:", done.stdout[-5000:], done.stderr[-1000:])
    counts = {
        word: int(number)
        for number, word in re.findall(r"(\d+) (passed|failed|error)", done.stdout)
    }
    bad = counts.get("failed", 0) + counts.get("error", 0)
    return counts.get("passed", 0), max(bad, int(done.returncode != 0))
