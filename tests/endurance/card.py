"""A memory card under SQLite: it sees what SQLite asks of the file system, and may refuse it.

A VFS ("virtual file system", sqlite.org/vfs.html) is how SQLite reaches files. This one is a copy
of the usual one in the very library that Python's sqlite3 module uses, reached by ctypes. Locks,
shared memory and reading stay with the functions of the original; opening, writing, truncating,
syncing, closing and deleting pass by here.
"""

import ctypes
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

OK, READONLY, FULL, CANTOPEN = 0, 8, 13, 14
IOERR = {"read": 266, "write": 778, "sync": 1034, "truncate": 1546, "delete": 2570, "open": 14}
"""Result codes of sqlite.org/rescode.html; what cannot be opened has a code of its own."""
OPEN_CREATE, OPEN_SHM = 0x4, 0x100
NAME = b"seen"

_int, _i64, _ptr, _str = ctypes.c_int, ctypes.c_int64, ctypes.c_void_p, ctypes.c_char_p
OPEN = ctypes.CFUNCTYPE(_int, _ptr, _ptr, _ptr, _int, ctypes.POINTER(_int))
DELETE = ctypes.CFUNCTYPE(_int, _ptr, _str, _int)
CLOSE = ctypes.CFUNCTYPE(_int, _ptr)
READ = ctypes.CFUNCTYPE(_int, _ptr, _ptr, _int, _i64)
WRITE = ctypes.CFUNCTYPE(_int, _ptr, _ptr, _int, _i64)
TRUNCATE = ctypes.CFUNCTYPE(_int, _ptr, _i64)
SYNC = ctypes.CFUNCTYPE(_int, _ptr, _int)


class Vfs(ctypes.Structure):
    """sqlite3_vfs, sqlite.org/c3ref/vfs.html."""

    _fields_ = [
        ("version", _int),
        ("file_size", _int),
        ("longest_path", _int),
        ("next", _ptr),
        ("name", _str),
        ("app_data", _ptr),
        ("open", _ptr),
        ("delete", _ptr),
        *((f"method_{n}", _ptr) for n in range(14)),
    ]


class Methods(ctypes.Structure):
    """sqlite3_io_methods, sqlite.org/c3ref/io_methods.html."""

    _fields_ = [
        ("version", _int),
        ("close", _ptr),
        ("read", _ptr),
        ("write", _ptr),
        ("truncate", _ptr),
        ("sync", _ptr),
        *((f"method_{n}", _ptr) for n in range(13)),
    ]


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing SQLite asks: open, delete, write, truncate, sync or read (without its data).
    ``at`` is where a write begins and how long a file shall be; ``flag`` is 1 for an open that may
    create, and for a delete that shall be on the card when it returns.
    """

    what: str
    path: Path
    at: int = 0
    body: bytes = b""
    flag: int = 0


class Card:
    """One that does all it is asked."""

    def asked(self, ask: Ask) -> int:
        """The result code that SQLite gets instead; OK lets it be done."""
        del ask
        return OK

    def done(self, ask: Ask) -> None:
        """It was done."""


class _Shim:
    """The VFS of one card. It is never freed: a connection may be closed late."""

    def __init__(self, card: Card, usual: Vfs) -> None:
        self.card = card
        self._paths: dict[int, Path] = {}
        self._usual_at = ctypes.addressof(usual)
        self._open, self._delete = OPEN(usual.open), DELETE(usual.delete)
        self._patched: dict[int, Methods] = {}
        self._kept: list[object] = []
        self.vfs = Vfs.from_buffer_copy(usual)
        self.vfs.name, self.vfs.next = NAME, None
        self.vfs.open, self.vfs.delete = self._at(OPEN, self.open), self._at(DELETE, self.delete)

    def _at(self, kind: Any, function: Callable[..., int]) -> int | None:
        made = kind(function)
        self._kept.append(made)
        return ctypes.cast(made, _ptr).value

    def _pass(self, ask: Ask, real: Callable[[], int]) -> int:
        code = self.card.asked(ask) or real()
        if code == OK:
            self.card.done(ask)
        return code

    def open(self, _vfs: int, name: int | None, file: int, flags: int, out: Any) -> int:
        def real() -> int:
            return int(self._open(self._usual_at, name, file, flags, out))

        slot = ctypes.cast(file, ctypes.POINTER(_ptr))
        if name is None:  # a file that is gone when it is closed
            return real()
        path = Path(ctypes.string_at(name).decode())
        slot[0] = None
        code = self._pass(Ask("open", path, flag=int(bool(flags & OPEN_CREATE))), real)
        if code == OK:
            self._paths[file] = path
            slot[0] = ctypes.addressof(self._methods(slot[0]))
        return code

    def delete(self, _vfs: int, name: bytes, on_card: int) -> int:
        ask = Ask("delete", Path(name.decode()), flag=on_card)
        return self._pass(ask, lambda: int(self._delete(self._usual_at, name, on_card)))

    def _methods(self, at: int) -> Methods:
        """The methods of an opened file, with ours in the place of some."""
        if at not in self._patched:
            usual = Methods.from_address(at)
            made = Methods.from_buffer_copy(usual)
            close, read, write = CLOSE(usual.close), READ(usual.read), WRITE(usual.write)
            truncate, sync = TRUNCATE(usual.truncate), SYNC(usual.sync)

            def on_close(file: int) -> int:
                self._paths.pop(file, None)
                return int(close(file))

            def on_read(file: int, into: int, count: int, start: int) -> int:
                ask = Ask("read", self._paths[file], start)
                return self._pass(ask, lambda: int(read(file, into, count, start)))

            def on_write(file: int, data: int, count: int, start: int) -> int:
                ask = Ask("write", self._paths[file], start, ctypes.string_at(data, count))
                return self._pass(ask, lambda: int(write(file, data, count, start)))

            def on_truncate(file: int, size: int) -> int:
                ask = Ask("truncate", self._paths[file], size)
                return self._pass(ask, lambda: int(truncate(file, size)))

            def on_sync(file: int, how: int) -> int:
                return self._pass(Ask("sync", self._paths[file]), lambda: int(sync(file, how)))

            made.close, made.read = self._at(CLOSE, on_close), self._at(READ, on_read)
            made.write = self._at(WRITE, on_write)
            made.truncate, made.sync = self._at(TRUNCATE, on_truncate), self._at(SYNC, on_sync)
            self._patched[at] = made
        return self._patched[at]


_SHIMS: list[_Shim] = []


@cache
def _library() -> ctypes.CDLL | str:
    """SQLite as Python has it, or why it cannot be reached."""
    try:
        import _sqlite3

        file = getattr(_sqlite3, "__file__", None)
        known = ctypes.CDLL(file)  # what it is linked with is found through it
        known.sqlite3_vfs_find.restype = _ptr
        known.sqlite3_vfs_find.argtypes = [_str]
        known.sqlite3_vfs_register.argtypes = [_ptr, _int]
        known.sqlite3_vfs_unregister.argtypes = [_ptr]
    except (ImportError, OSError, AttributeError, TypeError) as error:
        return f"ctypes does not reach the SQLite of this Python: {error}"
    if Vfs.from_address(known.sqlite3_vfs_find(None)).version != 3:
        return "the VFS of this SQLite is not of version 3"
    return known


def unreachable() -> str:
    """Why there can be no such card under the SQLite of this Python, "" when there can."""
    found = _library()
    return found if isinstance(found, str) else ""


@contextmanager
def inserted(card: Card) -> Iterator[None]:
    """Every file that SQLite opens meanwhile lies on this card. They are to be closed within."""
    library = _library()
    assert isinstance(library, ctypes.CDLL), library
    usual_at = library.sqlite3_vfs_find(None)
    shim = _Shim(card, Vfs.from_address(usual_at))
    _SHIMS.append(shim)
    at = ctypes.addressof(shim.vfs)
    assert library.sqlite3_vfs_register(at, 1) == OK
    try:
        yield
    finally:
        library.sqlite3_vfs_register(usual_at, 1)
        library.sqlite3_vfs_unregister(at)
