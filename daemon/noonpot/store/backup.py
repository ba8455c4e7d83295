"""Copies of the data file: made while it is written, held against it row by row before they count,
thinned by age.
"""

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
from noonpot.store.connection import CHECK_EVERY, FILE_MODE, examine, explained, reading
from noonpot.store.copying import copied, renewed
from noonpot.store.drill import Sums, compare, sums
from noonpot.store.migrations import applied, check_shape

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


def copy(
    source: Path,
    target: Path,
    clock: Clock,
    stop: Signal,
    spare: Path | None = None,
    *,
    compared: bool = True,
) -> None:
    """Copy a data file, also one that is written meanwhile, as it stands when this begins. An older
    copy that nobody needs any more may be given as ``spare``: it is used up, and only what differs
    is written.

    The target appears whole and on the card, in place of any other, or not at all; it was opened,
    checked and, unless a watch waits for it, held against the source row by row (``compared``).
    Raises StoreDamagedError when what was copied is damaged, and StoreError when it cannot be done,
    or ``stop`` was given.
    """
    part = target.with_name(f".{target.name}{PART}")
    try:
        with explained(target):
            with reading(source) as old:
                old.set_progress_handler(stop.is_set, CHECK_EVERY)
                if spare is None or not _made_of(spare, old, part, clock, stop):
                    part.unlink(missing_ok=True)
                    part.touch(FILE_MODE)
                    copied(old, part, clock, stop)
                    _detach(part)
                    prove(part, stop)
                    if compared:
                        compare(sums(old), _sums_of(part, stop))
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


def spare_of(made: Path, daily: int, weekly: int) -> Path | None:
    """The copy beside a new one that will be the first not to be needed any more."""
    known = [one for one in copies(made.parent) if one.path != made]
    at = datetime.strptime(made.name, NAME).replace(tzinfo=UTC)
    wanted = kept([at, *(one.at for one in known)], daily, weekly)
    gone = [one.path for one in known if one.at not in wanted]  # in the order of time
    return gone[-1] if gone else None


def make_room(
    source: Path,
    folder: Path,
    reserve_bytes: int,
    *,
    thinning: bool = True,
    spare: Path | None = None,
) -> Path | None:
    """See to it that one more backup finds room. With ``thinning`` all together take at most half
    of what would be free without them: the oldest give way, the last one never does. The new one
    may take the place of ``spare``, or else of the first that gives way; returns which.

    Raises StoreFullError when it would take of the reserve.
    """
    with explained(folder):
        needed = ceil(GROWTH * source.stat().st_size)
        known = [(copy.path, copy.path.stat().st_size) for copy in copies(folder)]
        card = os.statvfs(folder)
        taken, free = sum(size for _, size in known), card.f_bavail * card.f_frsize
        most = min((free + taken) // 2, free + taken - reserve_bytes)
        if spare is not None:
            size = dict(known)[spare]
            known.remove((spare, size))
            taken, free = taken - size, free + size
        while thinning and len(known) > 1 and taken + needed > most:
            oldest, size = known.pop(0)
            if spare is None:
                spare = oldest
            else:
                oldest.unlink()
            taken, free = taken - size, free + size
        if needed + reserve_bytes > free:
            raise StoreFullError(
                f"no room for a backup of {needed / MB:.0f} MB in {folder}, where {free / MB:.0f} "
                "MB are free; free some space, or name a folder on a stick under [backup]"
            )
        return spare


def _last_of_each(newest: Sequence[datetime], key: Callable[[datetime], object]) -> list[datetime]:
    """The first of each group, of times that begin with the newest."""
    found: dict[object, datetime] = {}
    for at in newest:
        found.setdefault(key(at), at)
    return list(found.values())


def _made_of(spare: Path, old: sqlite3.Connection, part: Path, clock: Clock, stop: Signal) -> bool:
    """Make the copy out of an older one, and prove it; False when that one is no good for it."""
    try:
        wanted = renewed(old, spare, part, clock, stop)
        if wanted is None:
            return False
        _detach(part)
        prove(part, stop)
        compare(wanted, _sums_of(part, stop))
    except (StoreError, sqlite3.DatabaseError):
        if stop.is_set():
            raise
        return False
    return True


def _sums_of(part: Path, stop: Signal) -> Sums:
    """What a copy holds, opened as a restored one would be."""
    with reading(part) as new:
        new.set_progress_handler(stop.is_set, CHECK_EVERY)
        return sums(new)


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
