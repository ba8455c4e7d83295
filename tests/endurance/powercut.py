"""What a power cut may leave of files: all that was on the card, and any part of what was not yet.

A ``Recorder`` is a card that notes every write, sync and name in its order. ``Disk`` lives through
such notes up to any point, and then gives the files as they may be found after a cut there.

The model is that of POSIX with nothing added: what was written to a file is surely on the card once
that file was synced, a name in a folder once the folder was. Until then each write may be there,
missing, there in some of its sectors of 512 bytes, or there without one that came before it; the
sectors under way may hold anything. Bytes beside a write stay as they were (SQLite calls this
"powersafe overwrite", sqlite.org/psow.html, and takes it for granted on Unix).
"""

import os
import random
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from endurance.card import Ask, Card, inserted

SECTOR = 512
JOURNALS = ("-wal", "-journal")
"""SQLite syncs the folder together with the first sync of one that it made (os_unix.c)."""


@dataclass(frozen=True, slots=True)
class Note:
    """One thing that was done: ``what`` is one of ask, name, folder, told."""

    what: str
    ask: Ask | None = None
    names: Mapping[Path, Path | None] = field(default_factory=dict)
    told: object = None


class Recorder(Card):
    """Notes what SQLite does, what Python's os module does beside it, and what is acknowledged."""

    def __init__(self) -> None:
        self.notes: list[Note] = []

    def done(self, ask: Ask) -> None:
        """SQLite did something to a file."""
        if ask.what != "read":
            self.notes.append(Note("ask", ask))

    def tell(self, what: object) -> None:
        """The store has acknowledged this."""
        self.notes.append(Note("told", told=what))

    def named(self, names: Mapping[Path, Path | None]) -> None:
        """New names of files; None is a file of its own that begins empty or, alone, no file."""
        self.notes.append(Note("name", names=names))

    @contextmanager
    def running(self, patch: Callable[[object, str, object], None]) -> Iterator[None]:
        """Take notes; ``patch`` is pytest's, for what Python itself does to files."""
        for name, wrapped in self._wrapped().items():
            patch(os, name, wrapped)
        with inserted(self):
            yield

    def _wrapped(self) -> Mapping[str, Callable[..., Any]]:
        usual_open, usual_sync = os.open, os.fsync
        usual_rename, usual_replace, usual_link, usual_unlink = (
            os.rename,
            os.replace,
            os.link,
            os.unlink,
        )

        def opened(path: Any, flags: int, *more: Any, **named: Any) -> int:
            made = usual_open(path, flags, *more, **named)
            if flags & os.O_CREAT:
                self.notes.append(Note("ask", Ask("open", Path(path), flag=1)))
            return made

        def synced(file: Any) -> None:
            usual_sync(file)
            number = file if isinstance(file, int) else file.fileno()
            self.notes.append(Note("ask", Ask("sync", Path(f"/proc/self/fd/{number}").readlink())))

        def renamed(old: Any, new: Any) -> None:
            usual_rename(old, new)
            self.named({Path(new): Path(old), Path(old): None})

        def replaced(old: Any, new: Any) -> None:
            usual_replace(old, new)
            self.named({Path(new): Path(old), Path(old): None})

        def linked(old: Any, new: Any, **named: Any) -> None:
            usual_link(old, new, **named)
            self.named({Path(new): Path(old)})

        def unlinked(path: Any) -> None:
            usual_unlink(path)
            self.named({Path(path): None})

        return {
            "open": opened,
            "fsync": synced,
            "rename": renamed,
            "replace": replaced,
            "link": linked,
            "unlink": unlinked,
        }


@dataclass(slots=True)
class Inode:
    """A file: what is surely on the card, and what was asked for since it was synced."""

    number: int
    sure: bytearray = field(default_factory=bytearray)
    waiting: list[Ask] = field(default_factory=list)
    new_journal: bool = False

    def sync(self) -> None:
        """All is on the card."""
        for ask in self.waiting:
            put(self.sure, ask)
        self.waiting.clear()

    def found(self, dice: random.Random) -> bytes:
        """What a cut may leave."""
        body, asks = bytearray(self.sure), list(self.waiting)
        if dice.random() < 0.3:
            asks = asks[: dice.randrange(len(asks) + 1)]
        else:
            share = dice.choice((0.0, 0.2, 0.5, 0.8, 1.0))
            asks = [ask for ask in asks if dice.random() < share]
            if dice.random() < 0.5:
                dice.shuffle(asks)
        torn = dice.choice((0.0, 0.0, 0.3, 1.0))
        for ask in asks:
            if ask.what == "write" and dice.random() < torn:
                for piece in _pieces(ask, dice):
                    put(body, piece)
            else:
                put(body, ask)
        return bytes(body)


def put(body: bytearray, ask: Ask) -> None:
    """Do a write or a truncate."""
    if ask.what == "truncate":
        del body[ask.at :]
        return
    if len(body) < ask.at:
        body.extend(bytes(ask.at - len(body)))
    body[ask.at : ask.at + len(ask.body)] = ask.body


def _pieces(ask: Ask, dice: random.Random) -> Iterator[Ask]:
    """The sectors of a write that arrived; one in sixteen of the others holds anything."""
    start, share = ask.at, dice.random()
    end = ask.at + len(ask.body)
    while start < end:
        stop = min(end, (start // SECTOR + 1) * SECTOR)
        piece = ask.body[start - ask.at : stop - ask.at]
        if dice.random() < share:
            yield Ask("write", ask.path, start, piece)
        elif dice.random() < 1 / 16:
            yield Ask("write", ask.path, start, dice.randbytes(len(piece)))
        start = stop


class Disk:
    """Folders and files as a system has them while it lives through the notes. The memory that
    SQLite's readers share (``-shm``) is none of them: it is made anew. Names come onto the card in
    any order: a journaling file system may keep that in which they were given, POSIX promises
    nothing.
    """

    def __init__(self) -> None:
        self.told: list[object] = []
        self._names: dict[Path, Inode] = {}
        self._sure: dict[Path, Inode] = {}
        self._waiting: list[dict[Path, Inode | None]] = []
        self._count = 0

    def lie(self, path: Path) -> None:
        """A file that is there, on the card, before the notes begin."""
        self._count += 1
        inode = Inode(self._count, bytearray(path.read_bytes()))
        self._names[path] = self._sure[path] = inode

    def live(self, note: Note) -> None:
        """Let this happen."""
        if note.what == "told":
            self.told.append(note.told)
        elif note.what == "name":
            if all(old is None or old in self._names for old in note.names.values()):
                self._name({n: self._names[o] if o else None for n, o in note.names.items()})
        elif note.ask is not None:
            self._do(note.ask)

    def found(self, dice: random.Random) -> Mapping[Path, bytes]:
        """The files as they may be found when the power comes back."""
        names = dict(self._sure)
        share = dice.choice((0.0, 0.5, 1.0, 1.0))
        for change in self._waiting:
            if dice.random() < share:
                for path, inode in change.items():
                    if inode is None:
                        names.pop(path, None)
                    else:
                        names[path] = inode
        bodies = {inode.number: inode.found(dice) for inode in names.values()}
        return {path: bodies[inode.number] for path, inode in names.items()}

    def _do(self, ask: Ask) -> None:
        inode = self._names.get(ask.path)
        if ask.what == "open":
            if inode is None and ask.flag:
                self._count += 1
                self._name({ask.path: Inode(self._count, new_journal=_is_journal(ask.path))})
        elif ask.what == "delete":
            if inode is not None:
                self._name({ask.path: None})
            if ask.flag:
                self._sync_folder(ask.path.parent)
        elif ask.what == "sync":
            if inode is None:
                self._sync_folder(ask.path)
                return
            inode.sync()
            if inode.new_journal:
                inode.new_journal = False
                self._sync_folder(ask.path.parent)
        elif inode is not None:
            inode.waiting.append(ask)

    def _name(self, change: dict[Path, Inode | None]) -> None:
        for path, inode in change.items():
            if inode is None:
                self._names.pop(path, None)
            else:
                self._names[path] = inode
        self._waiting.append(change)

    def _sync_folder(self, folder: Path) -> None:
        """Names of this folder are on the card, in the order in which they were given."""
        left = []
        for change in self._waiting:
            for path, inode in change.items():
                if path.parent != folder:
                    continue
                if inode is None:
                    self._sure.pop(path, None)
                else:
                    self._sure[path] = inode
            rest = {p: i for p, i in change.items() if p.parent != folder}
            if rest:
                left.append(rest)
        self._waiting = left


def _is_journal(path: Path) -> bool:
    return path.name.endswith(JOURNALS)
