"""The sandbox of the service unit, built without systemd: ``python sandbox.py ORDER``.

It reads the unit's own lines, does what they say to mounts, capabilities and system calls, and then
becomes the program. Needs a mount namespace of its own, see ``command``. A line it knows nothing of
is an error, so that the unit cannot grow one that no test tries. Left to systemd: which devices a
control group may open; here the nodes are simply not there.
"""

import ctypes
import json
import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from security.syscalls import close_the_gate

LIBC = ctypes.CDLL(None, use_errno=True)
USER = 61_184  # the first of those that systemd gives to services, systemd.exec(5), DynamicUser=
CONFIG = "/run/noonpot/noonpot.toml"
INSTALLED = "/opt/noonpot"
STATE = "/var/lib/noonpot"
PASSED_ON = "/run/credentials/noonpot.service"
# The flags of mount(2).
RDONLY, NOSUID, NODEV, NOEXEC, REMOUNT, NOATIME, BIND, REC = 1, 2, 4, 8, 32, 1024, 4096, 16384
RELATIME = 1 << 21
KEPT = {
    "nosuid": NOSUID,
    "nodev": NODEV,
    "noexec": NOEXEC,
    "noatime": NOATIME,
    "relatime": RELATIME,
}
# Of prctl(2) and capset(2).
CAPBSET_DROP, NO_NEW_PRIVS, AMBIENT, AMBIENT_CLEAR_ALL = 24, 38, 47, 4
CAPABILITY_VERSION = 0x20080522
NODES = ("null", "zero", "full", "random", "urandom")  # what DevicePolicy=closed leaves
# What systemd does around the program, not to it.
AROUND = {
    "Type",
    "ExecStart",
    "WatchdogSec",
    "Restart",
    "RestartSec",
    "TimeoutStartSec",
    "TimeoutStopSec",
    "RestartPreventExitStatus",
    "OOMPolicy",
    "LogRateLimitIntervalSec",
    "LogRateLimitBurst",
    "RemoveIPC",
    "User",
    "StateDirectory",
    "StateDirectoryMode",
    "WorkingDirectory",
    "LoadCredential",
    "Environment",
    "DevicePolicy",
    "DeviceAllow",
    "PrivateMounts",
    "UMask",
}
MOUNTS = {
    "PrivateTmp",
    "ProtectControlGroups",
    "ProtectHome",
    "ProtectHostname",
    "ProtectKernelLogs",
    "ProtectKernelModules",
    "ProtectKernelTunables",
    "ProtectProc",
    "ProtectSystem",
}
POWERS = {"CapabilityBoundingSet", "NoNewPrivileges"}
GATE = {
    "LockPersonality",
    "MemoryDenyWriteExecute",
    "RestrictAddressFamilies",
    "RestrictNamespaces",
    "RestrictRealtime",
    "RestrictSUIDSGID",
    "SystemCallArchitectures",
    "SystemCallErrorNumber",
    "SystemCallFilter",
}

Unit = Mapping[str, Sequence[str]]


def alone() -> list[str]:
    """What gives a program mounts and a host name of its own."""
    ways = [] if os.geteuid() == 0 else ["--user", "--map-current-user", "--keep-caps"]
    return ["unshare", *ways, "--mount", "--uts", "--propagation", "private"]


def command(order: Path) -> list[str]:
    """How to run an order; its process becomes the program."""
    return [*alone(), sys.executable, "-m", "security.sandbox", str(order)]


def service(unit: Path) -> Unit:
    """The lines of [Service], each key with all its values."""
    told: dict[str, list[str]] = {}
    section = ""
    for line in unit.read_text().splitlines():
        if line.startswith("["):
            section = line
        elif section == "[Service]" and "=" in line and not line.startswith("#"):
            key, _, value = line.partition("=")
            told.setdefault(key, []).append(value)
    strange = told.keys() - AROUND - MOUNTS - POWERS - GATE
    if strange:
        raise SystemExit(f"this sandbox knows nothing of {sorted(strange)}")
    return told


def main(order: Mapping[str, Any]) -> None:
    """Shut ourselves in, and become the program."""
    unit = service(Path(order["unit"]))
    owner = USER if os.geteuid() == 0 else os.geteuid()
    build(unit, order, owner)
    give_up_powers(owner)
    os.umask(int(unit["UMask"][0], 8))
    os.chdir(STATE)
    environment = {
        "PATH": "/usr/local/bin:/usr/bin",
        "LANG": "C.UTF-8",
        "STATE_DIRECTORY": STATE,
        "CREDENTIALS_DIRECTORY": PASSED_ON,
        **dict(line.split("=", 1) for line in unit.get("Environment", ())),
        **order["environment"],
    }
    close_the_gate({key: unit[key] for key in GATE if key in unit})
    os.execve(order["command"][0], order["command"], environment)  # noqa: S606


def build(unit: Unit, order: Mapping[str, Any], owner: int) -> None:
    """The file system as the unit shows it."""
    for key in MOUNTS:  # each is built below as what it is set to
        if unit[key] not in (["yes"], ["strict"], ["invisible"]):
            raise SystemExit(f"{key}={unit[key]} is not what this sandbox builds")
    held = {to: os.open(path, os.O_PATH) for to, path in order["shown"].items()}
    state = os.open(order["state"], os.O_PATH)
    secrets = {file.name: file.read_bytes() for file in Path(order["secrets"]).iterdir()}
    config = Path(order["config"]).read_bytes()
    nodes = {name: os.open(f"/dev/{name}", os.O_PATH) for name in NODES}
    for place, mode in (
        ("/tmp", "1777"),  # noqa: S108  the sandbox's own
        ("/var/tmp", "1777"),  # noqa: S108
        ("/home", "755"),
        ("/root", "755"),
        ("/run", "755"),
        ("/opt", "755"),
        ("/var/lib", "755"),
        ("/dev", "755"),
        ("/lib/modules", "000"),
    ):
        if Path(place).is_dir():
            mount("tmpfs", place, "tmpfs", NOSUID, f"mode={mode}")
    for name, node in nodes.items():
        bind(node, f"/dev/{name}")
    Path("/dev/shm").mkdir()  # noqa: S108
    mount("tmpfs", "/dev/shm", "tmpfs", NOSUID | NODEV, "mode=1777")  # noqa: S108
    for to, path in held.items():
        bind(path, to)
    bind(state, STATE)
    give(STATE, owner)
    write(Path(CONFIG), config, 0o644)
    for name, secret in secrets.items():  # as systemd names the files of a folder
        write(Path(PASSED_ON, f"secret_{name}"), secret, 0o400)
        give(f"{PASSED_ON}/secret_{name}", owner)
    give(PASSED_ON, owner)
    with suppress(PermissionError):  # without root this takes a process namespace too
        mount("proc", "/proc", "proc", NOSUID | NODEV | NOEXEC, "hidepid=invisible")
    with suppress(PermissionError):
        mount("/proc/sys", "/proc/sys", "", BIND | REC, "")
    for kernel in ("/proc/kmsg", "/dev/kmsg"):
        if Path(kernel).exists():
            mount("/dev/null", kernel, "", BIND, "")
    seal({STATE, "/tmp", "/var/tmp", "/dev/shm", "/proc"})  # noqa: S108


def seal(writable: set[str]) -> None:
    """Make every mount read-only, but for these."""
    for line in Path("/proc/self/mountinfo").read_text().splitlines():
        _, _, _, _, place, told, *_ = line.split()
        if place not in writable:
            flags = sum(KEPT.get(flag, 0) for flag in told.split(","))
            # What lies beneath another mount cannot be reached, and so not be changed either.
            with suppress(FileNotFoundError, OSError):
                mount("none", place, "", REMOUNT | BIND | RDONLY | flags, "")


def give_up_powers(owner: int) -> None:
    """Another user, no capability, and no way to gain one."""
    for number in range(64):
        LIBC.prctl(CAPBSET_DROP, number, 0, 0, 0)
    if os.geteuid() == 0:
        os.setgroups([])
        os.setresgid(owner, owner, owner)
        os.setresuid(owner, owner, owner)
    LIBC.prctl(AMBIENT, AMBIENT_CLEAR_ALL, 0, 0, 0)
    header = (ctypes.c_uint32 * 2)(CAPABILITY_VERSION, 0)
    if LIBC.capset(header, (ctypes.c_uint32 * 6)()) != 0:
        raise OSError(ctypes.get_errno(), "capset")
    if LIBC.prctl(NO_NEW_PRIVS, 1, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "no new privileges")


def bind(held: int, to: str) -> None:
    """Show a file or folder that is held open at another place, which is made if need be."""
    source, target = f"/proc/self/fd/{held}", Path(to)
    if Path(source).is_dir():
        target.mkdir(parents=True, exist_ok=True)
    elif not target.exists():
        target.touch()
    mount(source, to, "", BIND | REC, "")


def mount(source: str, target: str, kind: str, flags: int, options: str) -> None:
    """mount(2)."""
    told = [text.encode() for text in (source, target, kind)]
    if LIBC.mount(*told, ctypes.c_ulong(flags), options.encode()) != 0:
        number = ctypes.get_errno()
        raise OSError(number, f"mount {target}: {os.strerror(number)}")


def write(file: Path, body: bytes, mode: int) -> None:
    """A file in a folder that is made if need be."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(body)
    file.chmod(mode)


def give(path: str, owner: int) -> None:
    """Let the service's user own it. Whoever is not root is that user already."""
    if os.geteuid() == 0:
        os.chown(path, owner, owner)


if __name__ == "__main__":
    if shutil.which("systemd-analyze") is None:
        raise SystemExit("systemd-analyze is missing")
    main(json.loads(Path(sys.argv[1]).read_text()))
