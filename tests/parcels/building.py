"""A checkout to build from, and what is in the parcels that a build makes."""

import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
VENDOR = "daemon/noonpot/web/static/vendor"
DEADLINE_S = 60.0
Files = dict[str, bytes]
"""What each file holds, by its path."""


def known(root: Path) -> list[str]:
    """Every file that git would take, read off .gitignore: paths from the root, or names."""
    lines = (root / ".gitignore").read_text(encoding="utf-8").split()
    rooted = {line.strip("/") for line in lines if line.startswith("/")} | {".git"}
    anywhere = {line.strip("/") for line in lines if not line.startswith("/")}
    found = []
    for folder, inside, names in os.walk(root):
        here = Path(folder).relative_to(root)
        inside[:] = [
            name
            for name in inside
            if name not in anywhere and (here / name).as_posix() not in rooted
        ]
        found += [(here / name).as_posix() for name in names]
    return sorted(found)


def checkout(folder: Path) -> Path:
    """A copy of the project with its chart script, as it stands now; nobody else writes there."""
    names = [*known(ROOT), *(f"{VENDOR}/{path.name}" for path in (ROOT / VENDOR).iterdir())]
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / name, folder / name)
    return folder


def build(tree: Path, out: Path, *kinds: str, umask: int = 0o022) -> list[Path]:
    """Build in a process of its own, without npm and network; returns the parcels in order.

    ``kinds`` are ``wheel`` and ``sdist``.
    """
    words = [word for kind in kinds for word in ("-t", kind)]
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", *words, "-d", str(out)],
        cwd=tree,
        env={"PATH": str(tree / "nothing"), "NOONPOT_RELEASE": "yes"},
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
        check=False,
        umask=umask,
    )
    assert built.returncode == 0, built.stderr
    suffixes = {"wheel": "*.whl", "sdist": "*.tar.gz"}
    return [next(out.glob(suffixes[kind])) for kind in kinds]


def wheel_files(wheel: Path) -> Files:
    """What a wheel holds."""
    with zipfile.ZipFile(wheel) as parcel:
        return {name: parcel.read(name) for name in parcel.namelist()}


def sdist_files(sdist: Path) -> Files:
    """What a source parcel holds, without the name of its one folder."""
    with tarfile.open(sdist) as parcel:
        members = [member for member in parcel if not member.isdir()]
        held = {member.name: parcel.extractfile(member) for member in members}
        top = sdist.name.removesuffix(".tar.gz") + "/"
        assert all(name.startswith(top) for name in held)
        return {name.removeprefix(top): part.read() for name, part in held.items() if part}
