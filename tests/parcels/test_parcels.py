"""Wheel and source parcel hold what the project holds, to the byte, and nothing else."""

import email
import posixpath
import re
import shutil
import tarfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from noonpot import __version__
from parcels.building import VENDOR, build, checkout, known, sdist_files, wheel_files

# What stands about in a checkout in which somebody cooks and works.
LEFT_ABOUT = (
    "noonpot.toml",
    "mqtt-password",
    "trial-data/noonpot.db",
    "dist/noonpot-0.0.1.tar.gz",
    ".venv/lib/secret.py",
    ".hypothesis/examples/0",
    ".mypy_cache/1.json",
    "daemon/noonpot/__pycache__/app.cpython-311.pyc",
    "hardware/noonpot_hw/__pycache__/left.pyc",
    "tests/browser/vendor/axe.min.js",
    f"{VENDOR}/left.js",
)
PACKAGES = {"daemon/noonpot/": "noonpot/", "hardware/noonpot_hw/": "noonpot_hw/"}
SHARED = ("config/", "docs/", "hardware/wiring/", "systemd/")
PAGES = (
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "daemon/README.md",
    "hardware/README.md",
)
CHART = [f"{VENDOR}/{name}" for name in ("uPlot.LICENSE", "uPlot.iife.min.js", "uPlot.min.css")]
DATA, INFO = (f"noonpot-{__version__}.{kind}/" for kind in ("data", "dist-info"))


@dataclass(frozen=True, slots=True)
class Built:
    """A checkout, all its files, and what was built from it."""

    tree: Path
    names: list[str]
    wheel: Path
    sdist: Path


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    tree = checkout(tmp_path_factory.mktemp("tree"))
    names = known(tree)
    for name in LEFT_ABOUT:
        (tree / name).parent.mkdir(parents=True, exist_ok=True)
        (tree / name).write_text("none of others' business")
    wheel, sdist = build(tree, tmp_path_factory.mktemp("out"), "wheel", "sdist")
    return Built(tree, names, wheel, sdist)


def place(name: str) -> str | None:
    """Where a file of the project stands in the wheel; None if it does not belong there."""
    for folder, package in PACKAGES.items():
        if name.startswith(folder):
            return package + name.removeprefix(folder)
    if name.startswith(SHARED) or name in PAGES:
        return f"{DATA}data/share/noonpot/{name}"
    return None


def test_the_wheel_holds_all_it_needs_and_nothing_else(built: Built) -> None:
    wanted = {to: name for name in [*built.names, *CHART] if (to := place(name))}
    held = wheel_files(built.wheel)
    made = {f"{INFO}{name}" for name in ("METADATA", "WHEEL", "RECORD", "entry_points.txt")}
    made.add(f"{INFO}licenses/LICENSE")
    assert set(held) == set(wanted) | made
    for to, name in wanted.items():
        assert held[to] == (built.tree / name).read_bytes(), name
    for needed in ("web/openapi.json", "web/static/index.html", "py.typed", "store/mending.py"):
        assert f"noonpot/{needed}" in held


def test_the_source_parcel_is_the_project_and_nothing_else(built: Built) -> None:
    held = sdist_files(built.sdist)
    assert set(held) == {*built.names, *CHART, "PKG-INFO"}
    for name in set(held) - {"PKG-INFO"}:
        assert held[name] == (built.tree / name).read_bytes(), name


def test_a_wheel_from_the_source_parcel_is_the_same_to_the_byte(
    built: Built, tmp_path: Path
) -> None:
    with tarfile.open(built.sdist) as parcel:
        parcel.extractall(tmp_path, filter="data")
    (top,) = tmp_path.iterdir()
    (wheel,) = build(top, tmp_path / "out", "wheel")
    assert wheel.read_bytes() == built.wheel.read_bytes()


def test_another_day_folder_and_umask_give_the_same_bytes(built: Built, tmp_path: Path) -> None:
    tree = tmp_path / "elsewhere"
    shutil.copytree(built.tree, tree, copy_function=shutil.copyfile)  # new times, new modes
    for path in tree.rglob("*.py"):
        path.chmod(0o600)
    wheel, sdist = build(tree, tmp_path / "out", "wheel", "sdist", umask=0o077)
    assert wheel.read_bytes() == built.wheel.read_bytes()
    assert sdist.read_bytes() == built.sdist.read_bytes()


def test_what_the_wheel_says_of_itself_is_what_the_project_says(built: Built) -> None:
    held = wheel_files(built.wheel)
    told = email.message_from_bytes(held[f"{INFO}METADATA"])
    assert (told["Name"], told["Version"]) == ("noonpot", __version__)
    assert (told["License-Expression"], told["Requires-Python"]) == ("MIT", ">=3.11")
    assert set(told.get_all("Provides-Extra", [])) == {"influx", "pictures", "push", "signals"}
    assert b"noonpot = noonpot.cli:main" in held[f"{INFO}entry_points.txt"]
    assert b"Tag: py3-none-any" in held[f"{INFO}WHEEL"]


def test_every_link_between_the_pages_in_the_wheel_holds(built: Built) -> None:
    held = wheel_files(built.wheel)
    pages = {name: text.decode() for name, text in held.items() if name.endswith(".md")}
    assert len(pages) > 10
    broken = []
    for page, text in pages.items():
        for link in re.findall(r'(?<=\]\()[^)\s#]+|(?<=src=")[^"]+', text):
            target = posixpath.normpath(posixpath.join(posixpath.dirname(page), link))
            whole = link.startswith("https://") or target in held
            if not whole and not any(name.startswith(f"{target}/") for name in held):
                broken.append(f"{page}: {link}")
    assert broken == []
