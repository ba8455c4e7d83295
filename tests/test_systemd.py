"""The service unit as systemd's own tools judge it, and what its sandbox does to our libraries."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

SYSTEMD = Path(__file__).parents[1] / "systemd"
INSTALLED = "/opt/noonpot/.venv/bin/noonpot"
EXPOSURE_LIMIT = 2.0


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    """The unit as it will stand on the Pi, but with a program that exists here."""
    text = (SYSTEMD / "noonpot.service").read_text()
    assert INSTALLED in text
    path = tmp_path / "noonpot.service"
    path.write_text(text.replace(INSTALLED, sys.executable))
    return path


def verify(unit: Path) -> subprocess.CompletedProcess[str]:
    return run("systemd-analyze", "verify", "--recursive-errors=yes", unit)


def security(unit: Path) -> subprocess.CompletedProcess[str]:
    threshold = f"--threshold={EXPOSURE_LIMIT * 10:.0f}"
    return run("systemd-analyze", "security", "--offline=true", "--no-pager", threshold, unit)


def exposure(report: str) -> float:
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", report)
    assert found, report
    return float(found[1])


def test_systemd_finds_nothing_to_complain_about(unit: Path) -> None:
    result = verify(unit)
    assert (result.returncode, result.stdout, result.stderr) == (0, "", "")


def test_systemd_would_complain_about_a_misspelt_key(unit: Path) -> None:
    unit.write_text(unit.read_text().replace("WatchdogSec", "WatchDogSecs"))
    result = verify(unit)
    assert result.returncode != 0
    assert "WatchDogSecs" in result.stderr


def test_the_sandbox_is_tight(unit: Path) -> None:
    result = security(unit)
    print(f"exposure {exposure(result.stdout)}, limit {EXPOSURE_LIMIT}")
    assert result.returncode == 0
    assert exposure(result.stdout) <= EXPOSURE_LIMIT


def test_without_the_sandbox_the_limit_would_be_passed(unit: Path) -> None:
    unit.write_text(f"[Service]\nExecStart={sys.executable}\n")
    result = security(unit)
    assert result.returncode != 0
    assert exposure(result.stdout) > EXPOSURE_LIMIT


def test_the_unit_starts_the_command_that_there_is() -> None:
    found = re.search("^ExecStart=(.*)$", (SYSTEMD / "noonpot.service").read_text(), re.MULTILINE)
    assert found
    program, command, option, _file = shlex.split(found[1])
    assert program == INSTALLED
    result = run(sys.executable, "-m", "noonpot", command, "--help")
    assert result.returncode == 0, result.stderr
    assert option in result.stdout


def test_the_service_user_may_use_spi_and_i2c_and_cannot_log_in(tmp_path: Path) -> None:
    (tmp_path / "etc").mkdir()
    result = run("systemd-sysusers", f"--root={tmp_path}", SYSTEMD / "noonpot.sysusers")
    assert result.returncode == 0, result.stderr
    accounts = (tmp_path / "etc/passwd").read_text().splitlines()
    (account,) = [line.split(":") for line in accounts if line.startswith("noonpot:")]
    assert account[-1].endswith("nologin")
    groups = [line.split(":") for line in (tmp_path / "etc/group").read_text().splitlines()]
    for bus in ("spi", "i2c"):
        assert [members for name, *_, members in groups if name == bus] == ["noonpot"]


# prctl(2): PR_SET_MDWE, PR_MDWE_REFUSE_EXEC_GAIN; the kernel's own form of MemoryDenyWriteExecute.
REFUSE_NEW_CODE = """
import ctypes, os, sys
if ctypes.CDLL(None).prctl(65, 1, 0, 0, 0) != 0:
    sys.exit(77)
os.execv(sys.executable, [sys.executable, "-c", sys.argv[1]])
"""
WORK = """
import ctypes, mmap
try:
    mmap.mmap(-1, 4096, prot=mmap.PROT_WRITE | mmap.PROT_EXEC)
except PermissionError:
    print("refused")
assert ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_int)(lambda x: x + 1)(41) == 42
import adafruit_ads1x15, adafruit_max31855, apscheduler.schedulers.background
import apprise, influxdb_client, numpy
import paho.mqtt.client, pydantic, pygeomag, rich.live, sqlite3, ssl, typer
import pandas, pvlib
times = pandas.date_range("2026-06-03T12:00Z", periods=1)
assert pvlib.location.Location(10.0, 0.0).get_clearsky(times).ghi.iloc[0] > 500
print("done")
"""


def test_all_libraries_work_where_no_memory_may_become_code() -> None:
    result = run(sys.executable, "-c", REFUSE_NEW_CODE, WORK)
    if result.returncode == 77:
        pytest.skip("this kernel cannot refuse it by itself; Linux 6.3 and newer can")
    assert result.returncode == 0, result.stderr
    assert result.stdout.split() == ["refused", "done"]
