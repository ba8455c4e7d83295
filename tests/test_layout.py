"""The shape of the house: where things stand, how large they are, what no file may say."""

import re
from collections.abc import Iterator
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]

TOP = {
    ".ci",
    ".gitignore",
    ".pins",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "config",
    "daemon",
    "docs",
    "hardware",
    "pyproject.toml",
    "systemd",
    "tests",
}
# Folders whose names are also those of packages elsewhere: an __init__.py would hide those.
PLAIN_FOLDERS = ("config", "daemon", "docs", "hardware", "systemd")

LONGEST_LINES = 400
MEDIAN_LINES = 120

# Written so that no pattern finds itself.
UNSAYABLE = re.compile(
    r"(?<![\w.~])/(?:work|tmp|root|home|Users)/\w"  # a path of one machine
    r"|--(?:extra-)?index-url\b|--find[-]links\b"  # where packages come from
    r"|\b(?:pypi|pythonhosted|piwheels|npmjs)[.](?:org|com)\b"
    r"|https?://[^\s\"']*(?:/simple/|[.]whl\b|[.]tgz\b)"
)


def files() -> Iterator[Path]:
    """Every file of the project, nothing that running it leaves behind."""
    for name in sorted(TOP):
        entry = ROOT / name
        inside = [entry] if entry.is_file() else sorted(entry.rglob("*"))
        yield from (path for path in inside if path.is_file() and path.suffix != ".pyc")


def lines(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def test_only_known_names_stand_at_the_top() -> None:
    ignored = (ROOT / ".gitignore").read_text().split()
    left_behind = {name.strip("/") for name in ignored} | {".git", "PKG-INFO"}  # of a source parcel
    assert {entry.name for entry in ROOT.iterdir()} - left_behind == TOP


def test_no_folder_hides_a_package_of_the_same_name() -> None:
    hiding = [ROOT / folder / "__init__.py" for folder in PLAIN_FOLDERS]
    hiding += (ROOT / "tests").rglob("__init__.py")
    assert [path for path in hiding if path.exists()] == []


def test_every_module_is_small_enough_to_be_read_at_once() -> None:
    long = {
        path.relative_to(ROOT).as_posix(): count
        for path in files()
        if path.suffix == ".py" and (count := lines(path)) > LONGEST_LINES
    }
    assert long == {}


def test_the_usual_module_is_read_in_minutes() -> None:
    sizes = [
        lines(path)
        for folder in ("daemon", "hardware")
        for path in (ROOT / folder).rglob("*.py")
        if path.name != "__init__.py"
    ]
    print(f"{len(sizes)} modules, median {median(sizes):.0f} lines, longest {max(sizes)}")
    assert median(sizes) <= MEDIAN_LINES


def test_no_file_names_a_machine_or_a_package_index() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in files()
        for number, line in enumerate(
            path.read_text(encoding="utf-8", errors="replace").splitlines(), start=1
        )
        if UNSAYABLE.search(line)
    ]
    assert found == []


def test_the_search_for_machine_paths_finds_one() -> None:
    assert UNSAYABLE.search("see /" + "home/cook/noonpot")
    assert UNSAYABLE.search("--index" + "-url https://example.org")
    assert not UNSAYABLE.search("/etc/noonpot/noonpot.toml")
