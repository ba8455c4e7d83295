"""The version stands in one place, and everything that names it agrees."""

import importlib.metadata
import re
import tomllib
from pathlib import Path

from typer.testing import CliRunner

from noonpot import __version__
from noonpot.cli import command_line
from parcels.building import ROOT


def test_the_program_tells_the_version_of_its_package() -> None:
    told = CliRunner().invoke(command_line(), ["--version"])
    assert told.stdout == f"noonpot {__version__}\n"
    assert importlib.metadata.version("noonpot") == __version__, "install anew: make venv"


def test_no_other_file_has_a_version_of_its_own() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    place = Path(project["tool"]["hatch"]["version"]["path"])
    assert place == Path("daemon", "noonpot", "__init__.py")
    assigned = [
        path.relative_to(ROOT)
        for folder in ("daemon", "hardware")
        for path in (ROOT / folder).rglob("*.py")
        if re.search(r"^__version__ *=", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    ]
    assert assigned == [place]


def test_the_newest_version_in_the_changelog_is_this_one() -> None:
    changelog = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    headings = re.findall(r"^## \[(.+?)\](?: - (\S+))?$", changelog, flags=re.MULTILINE)
    versions = [version for version, day in headings if version != "Unreleased" and day]
    assert versions[0] == __version__
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d", day) for version, day in headings if day)
