"""The direction of imports is checked by machine: here each contract is broken on purpose."""

import os
import shutil
import subprocess
import sysconfig
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LINT_IMPORTS = Path(sysconfig.get_path("scripts")) / "lint-imports"


def lint(house: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [LINT_IMPORTS, "--no-cache", "--no-logo"],
        cwd=house,
        env=os.environ | {"PYTHONPATH": "daemon:hardware", "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of all that the contracts speak about."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for folder in ("daemon", "hardware"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    return tmp_path


def test_all_contracts_are_kept(house: Path) -> None:
    result = lint(house)
    assert result.returncode == 0, result.stdout
    assert "0 broken" in result.stdout


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        # the core asks the time
        ("daemon/noonpot/core/moment.py", "import time", "core is pure"),
        # the conductor reaches for one player
        ("daemon/noonpot/engine/poller.py", "import noonpot.store", "layers of the daemon"),
        # two players talk behind the conductor's back
        ("daemon/noonpot/uplink/aside.py", "import noonpot.store", "layers of the daemon"),
        # a module that has no place yet
        ("daemon/noonpot/misc.py", "", "layers of the daemon"),
        # a player commands the conductor
        ("daemon/noonpot/clock.py", "import noonpot.engine", "only the one place that wires"),
        # a driver is imported by name
        ("daemon/noonpot/app/aside.py", "import noonpot_hw.ds18b20", "through entry points alone"),
        # a probe knows the store
        ("hardware/noonpot_hw/ds18b20.py", "import noonpot.store", "probes see ports"),
        # a data frame costs the daemon 130 MB
        ("daemon/noonpot/app/aside.py", "import pandas", "live in one module"),
        # the watch loads the server of the page
        ("daemon/noonpot/app/daemon.py", "import noonpot.web.site", "only the process of the page"),
        # a second place that serves
        ("daemon/noonpot/notify/aside.py", "import starlette", "the server of the page lives in"),
        # the page reads the data file by itself
        ("daemon/noonpot/web/house.py", "import noonpot.store.reader", "layers of the daemon"),
    ],
)
def test_a_forbidden_import_is_found(house: Path, module: str, line: str, contract: str) -> None:
    with (house / module).open("a") as source:
        source.write(f"\n{line}\n")
    result = lint(house)
    assert result.returncode == 1, result.stderr
    broken = [text for text in result.stdout.splitlines() if " BROKEN" in text]
    assert len(broken) == 1
    assert contract in broken[0]
