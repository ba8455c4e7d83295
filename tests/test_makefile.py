"""What `make` says on a machine where something is missing, and what it does about it."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def make(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["make", "--no-print-directory", *words],
        cwd=folder,
        env={"PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    """A checkout in which nothing was made yet."""
    for name in ("Makefile", "pyproject.toml"):
        shutil.copy(ROOT / name, tmp_path)
    shutil.copytree(ROOT / ".pins", tmp_path / ".pins")
    return tmp_path


def program(folder: Path, name: str, script: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return path


def test_a_python_without_venv_is_told_the_one_apt_line(fresh: Path) -> None:
    # Debian's python3 has no ensurepip until python3-venv is there.
    python = program(fresh / "bin", "python", 'case "$*" in *ensurepip*) exit 1; esac')
    result = make(fresh, "demo", f"PY={python}")
    assert result.returncode != 0
    assert "sudo apt install python3-venv" in result.stdout
    assert not (fresh / ".venv").exists()


def test_a_python_too_old_is_refused_by_name(fresh: Path) -> None:
    python = program(fresh / "bin", "python", 'case "$*" in *version_info*) exit 1; esac')
    result = make(fresh, "demo", f"PY={python}")
    assert result.returncode != 0
    assert f"Python 3.11 or newer, and '{python}' is not" in result.stdout
    assert "make demo PY=" in result.stdout


def test_a_person_without_root_is_told_which_servers_to_install(fresh: Path) -> None:
    program(fresh / "bin", "id", "echo 1000")
    program(fresh / "bin", "systemd-analyze", "")
    program(fresh / "bin", "openssl", "")
    program(fresh / "bin", "chromium", "")
    result = make(fresh, "servers", f"PATH={fresh / 'bin'}")
    assert result.returncode != 0
    assert "sudo apt install mosquitto victoria-metrics\n" in result.stdout


def test_root_gets_the_missing_servers_without_a_question(fresh: Path) -> None:
    program(fresh / "bin", "id", "echo 0")
    for name in ("mosquitto", "openssl", "chromium"):
        program(fresh / "bin", name, "")
    program(fresh / "bin", "apt-get", 'echo "$DEBIAN_FRONTEND: apt-get $*"')
    result = make(fresh, "servers", f"PATH={fresh / 'bin'}")
    assert result.returncode == 0
    assert result.stdout.splitlines()[1:] == [
        "noninteractive: apt-get update -qq",
        "noninteractive: apt-get install -y -qq --no-install-recommends victoria-metrics systemd",
    ]


def test_nothing_is_installed_where_all_is_there(fresh: Path) -> None:
    for name in ("mosquitto", "victoria-metrics", "systemd-analyze", "openssl", "chromium"):
        program(fresh / "bin", name, "")
    program(fresh / "bin", "date", "echo 0")  # make 4.4 asks on this path when it began
    result = make(fresh, "servers", f"PATH={fresh / 'bin'}")
    assert (result.returncode, result.stdout, result.stderr) == (0, "", "")


def test_help_lists_every_target_that_a_person_calls(fresh: Path) -> None:
    listed = {line.split()[1] for line in make(fresh).stdout.splitlines()}
    assert listed == {
        "help",
        "venv",
        "demo",
        "test",
        "test-faults",
        "test-endurance",
        "check",
        "audit",
        "sbom",
        "bench",
        "bench-stations",
        "bench-alarms",
        "bench-forecast",
        "bench-rating",
        "pictures",
        "fix",
        "pins",
        "clean",
    }
