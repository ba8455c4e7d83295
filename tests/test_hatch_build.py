"""The build brings the chart script of the page: the pinned one or none, and goes on without."""

import base64
import hashlib
import io
import os
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from hatch_build import CHART, VENDOR, Parcel, fetch

SCRIPT = b"const chart = 'of our own';\n"
FILES = {"chart.js": "package/dist/chart.js"}


def packed(files: Mapping[str, bytes]) -> bytes:
    """A parcel as npm packs it."""
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w:gz") as parts:
        for name, content in files.items():
            part = tarfile.TarInfo(name)
            part.size = len(content)
            parts.addfile(part, io.BytesIO(content))
    return whole.getvalue()


def digest(content: bytes) -> str:
    return base64.b64encode(hashlib.sha512(content).digest()).decode()


class Npm:
    """The first npm on the path: it notes each call and brings one parcel."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self._calls = folder / "calls"
        self._calls.touch()
        self._folder = folder
        self._patch = patch

    def brings(self, parcel: bytes) -> None:
        (self._folder / "parcel").write_bytes(parcel)
        self.does(
            'for word in "$@"; do case "$word" in --pack-destination=*)'
            f' cp {self._folder}/parcel "${{word#*=}}/brought.tgz";; esac; done'
        )

    def does(self, script: str) -> None:
        program = self._folder / "npm"
        program.write_text(f'#!/bin/sh\necho "$@" >> {self._calls}\n{script}\n')
        program.chmod(0o755)
        self._patch.setenv("PATH", f"{self._folder}:{os.environ['PATH']}")

    @property
    def calls(self) -> list[str]:
        return self._calls.read_text().splitlines()


@pytest.fixture
def npm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Npm:
    folder = tmp_path / "npm"
    folder.mkdir()
    return Npm(folder, monkeypatch)


def test_a_parcel_is_unpacked_once_and_never_asked_for_again(npm: Npm, tmp_path: Path) -> None:
    content = packed({"package/dist/chart.js": SCRIPT, "package/setup.js": b"not wanted"})
    npm.brings(content)
    parcel = Parcel("chart", "1.2.3", digest(content), FILES)
    assert [fetch(parcel, tmp_path / "vendor") for _ in range(2)] == ["", ""]
    assert (tmp_path / "vendor" / "chart.js").read_bytes() == SCRIPT
    assert [path.name for path in (tmp_path / "vendor").iterdir()] == ["chart.js"]
    (call,) = npm.calls
    assert call.startswith("pack chart@1.2.3 --ignore-scripts ")


def test_a_parcel_with_another_digest_is_refused_whole(npm: Npm, tmp_path: Path) -> None:
    npm.brings(packed({"package/dist/chart.js": SCRIPT + b"and more"}))
    parcel = Parcel("chart", "1.2.3", digest(packed({"package/dist/chart.js": SCRIPT})), FILES)
    assert "not the pinned" in fetch(parcel, tmp_path / "vendor")
    assert not (tmp_path / "vendor").exists()


def test_a_file_of_another_version_is_replaced(npm: Npm, tmp_path: Path) -> None:
    content = packed({"package/dist/chart.js": SCRIPT})
    npm.brings(content)
    sha256 = {"chart.js": hashlib.sha256(SCRIPT).hexdigest()}
    parcel = Parcel("chart", "1.2.3", digest(content), FILES, sha256)
    (tmp_path / "chart.js").write_bytes(b"const chart = 'of last year';\n")
    assert [fetch(parcel, tmp_path) for _ in range(2)] == ["", ""]
    assert (tmp_path / "chart.js").read_bytes() == SCRIPT
    assert len(npm.calls) == 1


def test_what_npm_says_of_its_failure_is_passed_on(npm: Npm, tmp_path: Path) -> None:
    npm.does("echo 'npm error code ENOTFOUND' >&2; exit 1")
    problem = fetch(Parcel("chart", "1.2.3", "", FILES), tmp_path)
    assert problem == "npm could not bring chart 1.2.3: npm error code ENOTFOUND"


def test_an_npm_that_brings_nothing_is_not_believed(npm: Npm, tmp_path: Path) -> None:
    npm.does("exit 0")
    assert fetch(Parcel("chart", "1.2.3", "", FILES), tmp_path) == "npm brought no parcel of chart."


def built(folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """A wheel of a small project, in which an old chart script lies about."""
    (folder / "pyproject.toml").write_text(
        '[build-system]\nrequires = ["hatchling"]\nbuild-backend = "hatchling.build"\n'
        '[project]\nname = "small"\nversion = "1"\n'
        '[tool.hatch.build.hooks.custom]\npath = "hatch_build.py"\n'
        '[tool.hatch.build.targets.wheel]\npackages = ["daemon/noonpot"]\n'
    )
    (folder / ".gitignore").write_text(f"/{VENDOR}/\n")
    (folder / VENDOR).mkdir(parents=True)
    (folder / VENDOR / "uPlot.iife.min.js").write_text("const uPlot = 'of last year';\n")
    (folder / "daemon" / "noonpot" / "__init__.py").touch()
    hook = Path(__file__).parents[1] / "daemon" / "hatch_build.py"
    (folder / "hatch_build.py").write_text(hook.read_text())
    return subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", "out"],
        cwd=folder,
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_a_build_without_the_script_goes_on_with_a_warning(npm: Npm, tmp_path: Path) -> None:
    npm.does("echo 'npm error code ENOTFOUND' >&2; exit 1")
    ended = built(tmp_path)
    assert ended.returncode == 0, ended.stderr
    assert "simpler means: npm could not bring uplot" in ended.stderr
    (wheel,) = (tmp_path / "out").glob("*.whl")
    with zipfile.ZipFile(wheel) as parcel:
        assert not [name for name in parcel.namelist() if "uPlot" in name]


def test_a_build_for_others_without_the_script_is_refused(npm: Npm, tmp_path: Path) -> None:
    npm.does("echo 'npm error code ENOTFOUND' >&2; exit 1")
    ended = built(tmp_path, NOONPOT_RELEASE="yes")
    assert ended.returncode != 0
    assert "A release needs the chart script of the page: npm could not bring" in ended.stderr
    assert not list(tmp_path.glob("out/*.whl"))


def test_the_chart_script_is_pinned_by_a_whole_digest() -> None:
    assert len(base64.b64decode(CHART.sha512, validate=True)) == 64
    assert any(name.endswith("LICENSE") for name in CHART.files)
    assert set(CHART.sha256) == set(CHART.files)
