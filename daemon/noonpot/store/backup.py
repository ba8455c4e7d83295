"""Copies of the data file: made while it is written, proven before they count, thinned by age."""

import os
import sqlite3
from collections.abc import Callable, Collection, Iterable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil
from pathlib import Path

from noonpot.errors import StoreDamagedError, StoreError, StoreFullError
from noonpot.ports import Clock, Signal
from noonpot.store.connection import FILE_MODE, examine, explained, reading
from noonpot.store.migrations import applied, check_shape

# So many pages are copied and brought onto the card at once, 1 MB, and so long is the pause behind:
# the card is then free again for whoever waits to write (tests/bench/backup_cost.py). [s]
STEP_PAGES = 256
PAUSE_S = 0.05
STAMP = "%Y-%m-%dT%H%MZ"
NAME = f"noonpot-{STAMP}.db"
PART = ".part"
MB = 1e6
GROWTH = 1.02  # while it is copied, a file grows


@dataclass(frozen=True, slots=True)
class Copy:
    """One backup, and when it was made."""

    path: Path
    at: datetime


def place(folder: Path, at: datetime) -> Path:
    """Where the backup of a time belongs. The name holds it, so that it outlives being carried
    about, and sorts.
    """
    return folder / f"{at.astimezone(UTC):{NAME}}"


def copies(folder: Path) -> Sequence[Copy]:
    """All backups of a folder, the oldest first; none when it cannot be read."""
    try:
        paths = list(folder.iterdir())
    except OSError:
        return []
    found = []
    for path in paths:
        with suppress(ValueError):  # another file
            found.append(Copy(path, datetime.strptime(path.name, NAME).replace(tzinfo=UTC)))
    return sorted(found, key=lambda copy: copy.at)


def copy(source: Path, target: Path, clock: Clock, stop: Signal) -> None:
    """Copy a data file, also one that is written meanwhile, as it stands when this begins.

    The target appears whole, proven and on the card, in place of any other, or not at all. Raises
    StoreDamagedError when what was copied is damaged, and StoreError when it cannot be done, or
    ``stop`` was given.
    """
    part = target.with_name(f".{target.name}{PART}")
    try:
        with explained(target):
            part.unlink(missing_ok=True)
            part.touch(FILE_MODE)
            _copy(source, part, clock, stop)
            _detach(part)
            prove(part, stop)
            own(part)
            to_the_card(part)
            part.replace(target)
            to_the_card(target.parent)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def prove(path: Path, stop: Signal | None = None) -> None:
    """Look at the whole of a copy.

    Raises NewerStoreError when it is from a newer version, StoreDamagedError when it is damaged or
    holds nothing, and StoreError when it cannot be read, or ``stop`` was given.
    """
    examine(path, stop=stop)
    with reading(path) as db:
        if not applied(db):
            raise StoreDamagedError(f"{path} is empty; choose another backup")
        check_shape(db, path)


def own(path: Path) -> None:
    """Who keeps house with sudo leaves the file to the daemon's user."""
    if os.geteuid() == 0:
        owner = path.parent.stat()
        os.chown(path, owner.st_uid, owner.st_gid)


def sweep(folder: Path) -> None:
    """Delete what is left of backups that the power broke off. None may be under way."""
    for left in folder.glob(f".noonpot-*{PART}"):
        with suppress(OSError):
            left.unlink()


def thin(folder: Path, daily: int, weekly: int) -> None:
    """Delete what is too old to be kept. Raises StoreError."""
    known = copies(folder)
    wanted = kept([copy.at for copy in known], daily, weekly)
    with explained(folder):
        for old in known:
            if old.at not in wanted:
                old.path.unlink(missing_ok=True)


def kept(times: Iterable[datetime], daily: int, weekly: int) -> Collection[datetime]:
    """The last backup of each of the last days that have one, and of as many weeks before.

    >>> days = [datetime(2026, 6, day, 3, tzinfo=UTC) for day in range(1, 31)]
    >>> [at.day for at in sorted(kept(days, daily=3, weekly=2))]
    [21, 27, 28, 29, 30]
    """
    newest = sorted(times, reverse=True)
    days = _last_of_each(newest, lambda at: at.date())[:daily]
    older = [at for at in newest if days and at.date() < days[-1].date()]
    weeks = _last_of_each(older, lambda at: at.isocalendar()[:2])[:weekly]
    return {*days, *weeks}


def make_room(source: Path, folder: Path, reserve_bytes: int, *, thinning: bool = True) -> None:
    """See to it that one more backup finds room. With ``thinning`` all together take at most half
    of what would be free without them: the oldest give way, the last one never does.

    Raises StoreFullError when it would take of the reserve.
    """
    with explained(folder):
        needed = ceil(GROWTH * source.stat().st_size)
        known = [(copy, copy.path.stat().st_size) for copy in copies(folder)] if thinning else []
        card = os.statvfs(folder)
        taken, free = sum(size for _, size in known), card.f_bavail * card.f_frsize
        most = min((free + taken) // 2, free + taken - reserve_bytes)
        while len(known) > 1 and taken + needed > most:
            oldest, size = known.pop(0)
            oldest.path.unlink()
            taken, free = taken - size, free + size
        if needed + reserve_bytes > free:
            raise StoreFullError(
                f"no room for a backup of {needed / MB:.0f} MB in {folder}, where {free / MB:.0f} "
                "MB are free; free some space, or name a folder on a stick under [backup]"
            )


def _last_of_each(newest: Sequence[datetime], key: Callable[[datetime], object]) -> list[datetime]:
    """The first of each group, of times that begin with the newest."""
    found: dict[object, datetime] = {}
    for at in newest:
        found.setdefault(key(at), at)
    return list(found.values())


def _copy(source: Path, target: Path, clock: Clock, stop: Signal) -> None:
    """SQLite's own copy, within one view of the source: what is written meanwhile does not make it
    begin anew, and it holds nobody up.
    """
    going = "the backup was broken off, for Noonpot ends; it is made later"
    with reading(source) as old, closing(sqlite3.connect(target)) as new:
        new.execute("PRAGMA journal_mode = OFF")  # a copy that breaks off is thrown away
        new.execute("PRAGMA synchronous = OFF")
        with target.open("rb") as written:

            def rest(*_: object) -> None:
                os.fsync(written)  # else the next reading waits for all of it at once
                if clock.wait(stop, PAUSE_S):
                    raise StoreError(going)

            old.backup(new, pages=STEP_PAGES, progress=rest)


def _detach(part: Path) -> None:
    """A file for itself: without a log beside it, it can be carried about."""
    with closing(sqlite3.connect(part)) as db:
        db.execute("PRAGMA journal_mode = DELETE")


def to_the_card(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the card."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
