"""A data file that is damaged is set aside, never deleted, and the watch goes on from the last good
backup, or from nothing.
"""

import logging
import threading
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment
from noonpot.core.stationfacts import Mended
from noonpot.errors import (
    StoreDamagedError,
    StoreError,
    StoreFullError,
    StoreUnwritableError,
)
from noonpot.ports import Batch, Clock, Signal
from noonpot.store.backup import STAMP, Copy, copies, copy, own, to_the_card
from noonpot.store.connection import FILE_MODE, explained, lock, lock_of, reading
from noonpot.store.migrations import check_shape
from noonpot.store.sqlite import Store

log = logging.getLogger(__name__)

BESIDE = ("-wal", "-shm")
MEANWHILE = "meanwhile"
CHECKED_CHANNEL = "mending"
"""No channel: what was ever told is read for it, to see whether it can be."""
ALL = 1 << 31
BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)
DAMAGE = (ValueError, TypeError, LookupError, ArithmeticError, AttributeError)


def sound(path: Path, clock: Clock) -> Store:
    """The store, once all that a daemon takes up at its start was read from it.

    Raises StoreDamagedError when that fails, and whatever ``Store`` raises.
    """
    if lock_of(path).exists() and path.exists() and not path.stat().st_size:
        raise StoreDamagedError(
            f"data file {path} is empty, though it was in use; restore a backup"
        )
    try:
        store = Store(path, clock)
    except DAMAGE as error:
        raise _damaged(path, error) from error
    try:
        with reading(path) as db:
            check_shape(db, path)
        _read(store, clock.moment())
    except (StoreFullError, StoreUnwritableError):
        store.close()
        raise
    except (StoreError, *DAMAGE) as error:
        store.close()
        raise _damaged(path, error) from error
    return store


def mended(
    path: Path, folder: Path, clock: Clock, stop: Signal, timezone: tzinfo
) -> tuple[Store, Mended]:
    """A store in place of a damaged file: that of the newest backup in the folder that is good, or
    an empty one. A cook that ran in the backup goes on if it was begun today; another one is over.

    Raises StoreError when the card refuses it.
    """
    now = clock.moment()
    last: Sequence[Copy] = copies(folder)
    aside: list[Path] = []
    while True:
        with lock(path):
            restored = _ready(path, last, clock, stop)
            aside.append(replace(path, now.at))
        try:
            store = Store(path, clock) if restored is None else sound(path, clock)
            break
        except StoreDamagedError:
            if restored is None:
                raise
            last = [c for c in last if c.at < restored.at]
    kept = aside[0]
    if restored is not None:
        _end_old_cooks(store, now, restored.at, timezone)
    what = "a new one is begun" if restored is None else f"{restored.path} is in its place"
    log.error("data file %s is damaged; it is kept as %s, and %s", path, kept.name, what)
    return store, Mended(now, kept.name, None if restored is None else restored.at)


def meanwhile(path: Path, clock: Clock, timezone: tzinfo) -> tuple[Store, Mended]:
    """A store beside a file that a newer program wrote, and which is not touched: the watch goes on
    there. It stays there, too, for whoever wants its readings later.

    Raises StoreError when the card refuses it.
    """
    other = path.with_name(f"{path.stem}-{MEANWHILE}{path.suffix}")
    try:
        store = sound(other, clock)
    except StoreDamagedError:
        never = threading.Event()
        store, _ = mended(other, path.with_name(f"no-{MEANWHILE}"), clock, never, timezone)
    log.error("the watch goes on with %s", other)
    return store, Mended(clock.moment(), other.name, None, newer=True)


def replace(path: Path, at: datetime, what: str = "damaged") -> Path:
    """Put what lies ready beside a data file in its place. The file of before is kept beside, with
    its log, under a name that says ``what`` it is; returns it. There is a data file at every
    moment, and never one with a strange log. The caller holds the lock.

    Raises StoreError.
    """
    with explained(path):
        kept = _free_name(path, f"{what}-{at.astimezone(UTC).strftime(STAMP)}")
        for end in BESIDE:
            with suppress(FileNotFoundError):
                Path(f"{path}{end}").rename(f"{kept}{end}")
        try:
            kept.hardlink_to(path)
        except OSError:  # a file system without links
            path.rename(kept)
        to_the_card(path.parent)  # the old names first: POSIX promises no order of names
        prepared(path).replace(path)
        to_the_card(path.parent)
        return kept


def prepared(path: Path) -> Path:
    """Where that is made ready which shall take the place of a data file."""
    return path.with_name(f".{path.name}.next")


def _ready(path: Path, known: Sequence[Copy], clock: Clock, stop: Signal) -> Copy | None:
    """Make ready the newest copy that is good, and return it; an empty file when none is."""
    for one in reversed(known):
        try:
            copy(one.path, prepared(path), clock, stop, compared=False)
        except StoreError as error:
            log.warning("this backup is of no use: %s", error)
        else:
            return one
    with explained(path):
        prepared(path).unlink(missing_ok=True)
        prepared(path).touch(FILE_MODE)
        own(prepared(path))
    return None


def _damaged(path: Path, error: Exception) -> StoreDamagedError:
    return StoreDamagedError(
        f"data file {path} is damaged ({type(error).__name__}: {error}); move it aside and restore "
        "a backup"
    )


def _free_name(path: Path, ending: str) -> Path:
    """A name that nothing has yet."""
    endings = (ending, *(f"{ending}-{number}" for number in range(2, 100)))
    names = (path.with_name(f"{path.stem}-{each}{path.suffix}") for each in endings)
    return next(name for name in names if not name.exists())


def _read(store: Store, now: Moment) -> None:
    """Read all that is no mere number: alarms, what is to be told, cooks and what people did."""
    store.alarm_records()
    store.unsent(CHECKED_CHANNEL, ALL)
    store.absence()
    for cooker in {cook.cooker for cook in store.cooks()}:
        store.events_of(cooker, BEGINNING, now.at)


def _end_old_cooks(store: Store, now: Moment, until: datetime, timezone: tzinfo) -> None:
    if not now.trusted:
        return  # then nobody knows what day it is, and to watch too much harms nobody
    midnight = now.at.astimezone(timezone).replace(hour=0, minute=0, second=0, microsecond=0)
    for cook in store.running_cooks():
        if cook.started_at < midnight:
            at = max(until, cook.started_at + timedelta(seconds=1))
            stop = Event(cook.cooker, at, EventKind.STOP, {"text": "the data file was damaged"})
            store.write(now, Batch(events=[stop], cooks=[cook.after(stop)]))
