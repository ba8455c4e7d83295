"""Fuzzing that is led by the code it reaches, where atheris is installed."""

import os
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from endurance import fuzz_guided
from endurance.extent import FULL, Tell
from endurance.fuzz_guided import HOW, TARGETS

SECONDS = 60


@pytest.mark.skipif(not FULL, reason="led fuzzing is for NOONPOT_ENDURANCE=full")
@pytest.mark.skipif(find_spec("atheris") is None, reason=HOW)
@pytest.mark.parametrize("name", TARGETS)
def test_no_bytes_do_harm_however_far_they_get(name: str, figure: Tell) -> None:
    path = os.pathsep.join(path for path in sys.path if path)
    done = subprocess.run(
        [sys.executable, str(Path(fuzz_guided.__file__)), name, str(SECONDS)],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
        timeout=10 * SECONDS,
    )
    assert done.returncode == 0, done.stdout[-500:] + done.stderr[-3000:]
    told = dict(re.findall(r"stat::(\w+):\s+(\d+)", done.stderr))
    cases = f"{told['number_of_executed_units']} cases in {SECONDS} s, findings 0"
    figure(20, f"led fuzzing, {name}", cases, "every error a sentence of ours")


@pytest.mark.parametrize("name", TARGETS)
def test_the_targets_take_what_is_right(name: str, tmp_path: Path) -> None:
    with fuzz_guided.target(name, tmp_path) as (act, seeds):
        for seed in seeds:
            act(seed)
