"""The pinned requirement files: complete, consistent, checked by hash, tied to no package index."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
FILES = ("run", "test", "dev", "audit")

# What `make pins` puts into each file.
GROUPS = {
    "run": ("build",),
    "test": ("build", "test"),
    "dev": ("build", "test", "dev"),
    "audit": ("audit",),
}


@dataclass(frozen=True, slots=True)
class Pin:
    """One package: its requirement, always an exact version, and the hashes that are accepted."""

    requirement: Requirement
    hashes: frozenset[str]

    @property
    def version(self) -> str:
        (specifier,) = self.requirement.specifier
        assert specifier.operator == "==", f"{self.requirement} is not pinned to one version"
        return specifier.version


def text(name: str) -> str:
    return (ROOT / ".pins" / f"{name}.txt").read_text()


def pins(name: str) -> Mapping[str, Pin]:
    """Pins by canonical name. Every line is a requirement with hashes, a comment, or a mistake."""
    found: dict[str, Pin] = {}
    for entry in text(name).replace("\\\n", " ").splitlines():
        if entry.startswith("#"):
            continue
        requirement, *hashes = re.split(r"\s+--hash=", entry.strip())
        pin = Pin(Requirement(requirement), frozenset(hashes))
        found[canonicalize_name(pin.requirement.name)] = pin
    return found


def wanted(name: str) -> list[Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    entries = list(project["project"]["dependencies"])
    for extra in project["project"]["optional-dependencies"].values():
        entries += extra if name != "audit" else ()  # what only looks at packages needs none
    for group in GROUPS[name]:
        entries += project["dependency-groups"][group]
    return [Requirement(entry) for entry in entries]


@pytest.mark.parametrize("name", FILES)
def test_no_package_index_is_named(name: str) -> None:
    for mark in ("://", "index", "find-links", "@ "):
        assert mark not in text(name)


@pytest.mark.parametrize("name", FILES)
def test_every_package_has_one_version_and_its_hashes(name: str) -> None:
    for pin in pins(name).values():
        assert pin.version
        assert pin.hashes
        assert all(re.fullmatch("sha256:[0-9a-f]{64}", digest) for digest in pin.hashes)


@pytest.mark.parametrize("name", FILES)
def test_all_that_the_project_asks_for_is_pinned(name: str) -> None:
    pinned = pins(name)
    for requirement in wanted(name):
        pin = pinned[canonicalize_name(requirement.name)]
        assert requirement.specifier.contains(pin.version), f"{requirement}: run make pins"


@pytest.mark.parametrize(("small", "large"), [("run", "test"), ("test", "dev")])
def test_what_is_tested_is_what_runs(small: str, large: str) -> None:
    larger = pins(large)
    for name, pin in pins(small).items():
        assert (larger[name].version, larger[name].hashes) == (pin.version, pin.hashes)


def test_what_is_installed_is_what_is_pinned() -> None:
    here = {
        name: pin.version
        for name, pin in pins("test").items()
        if pin.requirement.marker is None or pin.requirement.marker.evaluate()
    }
    assert {name: version(name) for name in here} == here
