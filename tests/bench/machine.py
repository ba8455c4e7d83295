"""Which machine measured, without its name: python tests/bench/machine.py"""

import os
import platform
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

from broker import program

LIBRARIES = ("numpy", "paho-mqtt", "pvlib", "pydantic", "starlette", "uvicorn")
NUMBER = re.compile(r"\d+(?:\.\d+)+")


def machine() -> dict[str, str]:
    """What it is made of, and the versions of what was measured with."""
    return {
        "processor": f"{_model()}, {os.cpu_count()} cores, {platform.machine()}",
        "memory": f"{_memory_gb():.1f} GB",
        "system": f"{_system()}, Linux {platform.release()}",
        "Python": platform.python_version(),
        "SQLite": sqlite3.sqlite_version,
        "mosquitto": _answer([program("mosquitto"), "-h"]),
        # Debian's build does not know its own version; its package does.
        "VictoriaMetrics": _answer(["dpkg-query", "-W", "-f", "${Version}", "victoria-metrics"]),
        "Chromium": _answer(["chromium", "--version"]),
        "libraries": ", ".join(f"{name} {version(name)}" for name in LIBRARIES),
    }


def load() -> str:
    """How much else is going on: processes that want a core, the mean of one minute."""
    return f"{os.getloadavg()[0]:.1f}"


def _model() -> str:
    lines = Path("/proc/cpuinfo").read_text().splitlines()
    facts = {k.strip(): v.strip() for k, _, v in (line.partition(":") for line in lines)}
    board = Path("/proc/device-tree/model")
    own = board.read_text().strip("\0") if board.exists() else ""  # a Pi says what it is there
    return own or facts.get("model name") or platform.machine()


def _memory_gb() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9


def _system() -> str:
    return platform.freedesktop_os_release()["PRETTY_NAME"]


def _answer(command: Sequence[str]) -> str:
    """The version that a program tells of itself."""
    if shutil.which(command[0]) is None:
        return "not installed"
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = NUMBER.search(done.stdout + done.stderr)
    return found[0] if found else "not told"


def told() -> str:
    """All of it as a list in Markdown."""
    return "\n".join(f"- {name}: {what}" for name, what in machine().items())


if __name__ == "__main__":
    print(told())
