"""The part of the service's sandbox that the kernel keeps call by call, by libseccomp.

As systemd 252 does it, systemd.exec(5): a list of calls that are allowed, and refusals by argument.
"""

import ctypes
import errno
import subprocess
from collections.abc import Mapping, Sequence
from functools import cache

ALLOW = 0x7FFF0000  # seccomp.h
REFUSE = 0x00050000  # with the error number in the low bits
NE, LT, LE, EQ, GE, GT, MASKED_EQ = range(1, 8)
FAMILIES = {"AF_UNIX": 1, "AF_INET": 2, "AF_INET6": 10}
MOST_FAMILY = 46  # linux/socket.h
PROT_WRITE, PROT_EXEC, SHM_EXEC = 2, 4, 0o100000
NEW_NAMESPACES = (  # sched.h: CLONE_NEW*
    0x00000080,
    0x00020000,
    0x02000000,
    0x04000000,
    0x08000000,
    0x10000000,
    0x20000000,
    0x40000000,
)
S_ISUID, S_ISGID = 0o4000, 0o2000
HARMLESS_POLICIES = {0, 3, 5}  # sched.h: other, batch, idle

Unit = Mapping[str, Sequence[str]]


class Compared(ctypes.Structure):
    """``struct scmp_arg_cmp``."""

    _fields_ = (
        ("argument", ctypes.c_uint),
        ("how", ctypes.c_int),
        ("first", ctypes.c_uint64),
        ("second", ctypes.c_uint64),
    )


class Filter:
    """One filter; what no rule speaks of is answered by ``otherwise``."""

    def __init__(self, otherwise: int) -> None:
        self._library = ctypes.CDLL("libseccomp.so.2", use_errno=True)  # systemd brings it
        self._library.seccomp_init.restype = ctypes.c_void_p
        self._context = ctypes.c_void_p(self._library.seccomp_init(ctypes.c_uint32(otherwise)))

    def rule(self, answer: int, call: str, *compared: tuple[int, int, int, int]) -> None:
        """Answer a call so, if its arguments compare so. A call that this machine lacks is none."""
        number = self._library.seccomp_syscall_resolve_name(call.encode())
        if number < 0:
            return
        array = (Compared * max(1, len(compared)))(*(Compared(*each) for each in compared))
        done = self._library.seccomp_rule_add_array(
            self._context, ctypes.c_uint32(answer), number, len(compared), array
        )
        if done not in (0, -errno.EDOM):  # a call that exists on another machine only
            raise OSError(-done, f"{call}: {compared}")

    def load(self) -> None:
        """Hold the process and all its children to it, for good."""
        done = self._library.seccomp_load(self._context)
        if done != 0:
            raise OSError(-done, "the filter is not taken")


def close_the_gate(unit: Unit) -> None:
    """All that the unit says of system calls."""
    if unit["SystemCallErrorNumber"] != ["EPERM"]:
        raise SystemExit("another error number than this sandbox gives")
    refused = REFUSE | errno.EPERM
    told = Filter(ALLOW)
    _families(told, unit["RestrictAddressFamilies"][0].split())
    if "MemoryDenyWriteExecute" in unit:
        _no_new_code(told, refused)
    if "RestrictNamespaces" in unit:
        _no_namespaces(told, refused)
    if "RestrictSUIDSGID" in unit:
        _no_borrowed_rights(told, refused)
    if "RestrictRealtime" in unit:
        for policy in {*range(8)} - HARMLESS_POLICIES:
            told.rule(refused, "sched_setscheduler", (1, EQ, policy, 0))
    if "LockPersonality" in unit:
        told.rule(refused, "personality", (0, NE, 0, 0))
    told.load()
    _allowed(unit["SystemCallFilter"], refused).load()  # last: it allows no further filter


def _allowed(lines: Sequence[str], refused: int) -> Filter:
    """What a service usually calls, without what is taken out of it again."""
    calls: set[str] = set(_members("@default"))
    for line in lines:
        named = {call for each in line.lstrip("~").split() for call in _members(each)}
        calls = calls - named if line.startswith("~") else calls | named
    found = Filter(refused)
    for call in calls:
        found.rule(ALLOW, call)
    return found


def _families(found: Filter, allowed: Sequence[str]) -> None:
    refused = REFUSE | errno.EAFNOSUPPORT
    numbers = {FAMILIES[name] for name in allowed}
    for family in {*range(MOST_FAMILY + 1)} - numbers:
        found.rule(refused, "socket", (0, EQ, family, 0))
    found.rule(refused, "socket", (0, GT, MOST_FAMILY, 0))


def _no_new_code(found: Filter, refused: int) -> None:
    both = PROT_WRITE | PROT_EXEC
    for call in ("mmap", "mmap2"):
        found.rule(refused, call, (2, MASKED_EQ, both, both))
    for call in ("mprotect", "pkey_mprotect"):
        found.rule(refused, call, (2, MASKED_EQ, PROT_EXEC, PROT_EXEC))
    found.rule(refused, "shmat", (2, MASKED_EQ, SHM_EXEC, SHM_EXEC))


def _no_namespaces(found: Filter, refused: int) -> None:
    for flag in NEW_NAMESPACES:
        found.rule(refused, "clone", (0, MASKED_EQ, flag, flag))
        found.rule(refused, "unshare", (0, MASKED_EQ, flag, flag))
    found.rule(refused, "setns")
    found.rule(REFUSE | errno.ENOSYS, "clone3")  # its flags are out of a filter's sight


def _no_borrowed_rights(found: Filter, refused: int) -> None:
    for call, argument in (("chmod", 1), ("fchmod", 1), ("fchmodat", 2)):
        for bit in (S_ISUID, S_ISGID):
            found.rule(refused, call, (argument, MASKED_EQ, bit, bit))


def _members(name: str) -> set[str]:
    """The calls of a set of systemd's, with those of the sets in it; a call is its own."""
    if not name.startswith("@"):
        return {name}
    return {call for each in _sets()[name] for call in _members(each)}


@cache
def _sets() -> Mapping[str, Sequence[str]]:
    told = subprocess.run(
        ["systemd-analyze", "syscall-filter", "--no-pager"],
        capture_output=True,
        text=True,
        check=True,
    )
    sets: dict[str, list[str]] = {}
    name = ""
    for line in told.stdout.splitlines():
        if line.startswith("@"):
            name = line.strip()
            sets[name] = []
        elif name and line.startswith(" ") and not line.strip().startswith("#"):
            sets[name].append(line.strip())
    return sets
