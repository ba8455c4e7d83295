"""Keeps the backups of the data file: makes one a day, thins them, knows how they fare."""

import logging
import threading
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from noonpot.core.stationfacts import Backup
from noonpot.errors import StoreDamagedError, StoreError
from noonpot.ports import Clock, Health, Signal
from noonpot.settings.values import BackupWishes, Settings
from noonpot.store.backup import copies, copy, make_room, own, place, sweep, thin

log = logging.getLogger(__name__)

FOLDER = "backups"
FOLDER_MODE = 0o750
AGAIN_S = 3600.0
MB = 1e6


def folder_of(settings: Settings) -> Path:
    """Where the backups of a station are."""
    return settings.backup.folder or settings.data / FOLDER


def back_up(
    settings: Settings, file: Path, clock: Clock, stop: Signal, target: Path | None = None
) -> Path:
    """Make a backup, and return it: in the folder for them, where the others are thinned, or as the
    file ``target``.

    Raises StoreDamagedError when the data file is damaged, StoreError when it cannot be done.
    """
    reserve_bytes = round(settings.limits.own.free_mb * MB)
    if target is not None:
        make_room(file, target.absolute().parent, reserve_bytes, thinning=False)
        copy(file, target.absolute(), clock, stop)
        return target
    folder = _made_ready(settings)
    made = place(folder, clock.moment().at)
    make_room(file, folder, reserve_bytes)
    copy(file, made, clock, stop)
    thin(folder, settings.backup.days, settings.backup.weeks)
    return made


def _made_ready(settings: Settings) -> Path:
    """The folder for backups. One that a person named must be there: when the stick is not plugged
    in, the card must not be filled in its place.
    """
    folder = folder_of(settings)
    try:
        if settings.backup.folder is None and not folder.exists():
            folder.mkdir(FOLDER_MODE)
            own(folder)
    except OSError as error:
        raise StoreError(f"the folder for backups, {folder}: {error.strerror}") from error
    if not folder.is_dir():
        raise StoreError(
            f"the folder for backups, {folder}, is not there; plug in what holds it, or name "
            "another under [backup]"
        )
    return folder


def last_due(now: datetime, wishes: BackupWishes, timezone: tzinfo) -> datetime:
    """When the last backup before now was due."""
    local = now.astimezone(timezone)
    due = datetime.combine(local.date(), wishes.at, timezone)
    if due > local:
        due = datetime.combine(local.date() - timedelta(days=1), wishes.at, timezone)
    return due.astimezone(UTC)


class Upkeep:
    """Makes a backup when one is due. The clock must be set: a name with a wrong date would push
    out backups that are newer.
    """

    def __init__(self, settings: Settings, file: Path, clock: Clock, health: Health) -> None:
        self._settings = settings
        self._folder = folder_of(settings)
        self._file = file
        self._clock = clock
        self._health = health
        self._swept = False
        self._failed_s: float | None = None
        self._problem = ""
        self._damaged = False

    def state(self) -> Backup:
        """How the backups fare."""
        known = copies(self._folder)
        return Backup(known[-1].at if known else None, self._problem, self._damaged)

    def taken_bytes(self) -> int:
        """What all backups take, where they lie on the card of the data file."""
        try:
            if self._folder.stat().st_dev != self._file.stat().st_dev:
                return 0
            return sum(known.path.stat().st_size for known in copies(self._folder))
        except OSError:
            return 0

    def tend(self, stop: threading.Event) -> None:
        """Make a backup if one is due; takes seconds to minutes, and ends early with ``stop``."""
        if not self._due():
            return
        now_s = self._clock.moment().mono_s
        if not self._swept:
            sweep(self._folder)
            self._swept = True
        try:
            made = back_up(self._settings, self._file, self._clock, stop)
        except StoreError as error:
            if not stop.is_set():
                self._fail(error, now_s)
            return
        took_s = self._clock.moment().mono_s - now_s
        self._health.count("backups")
        log.info("backup %s made in %.0f s", made, took_s)
        self._problem, self._damaged, self._failed_s = "", False, None

    def _due(self) -> bool:
        now = self._clock.moment()
        if not now.trusted:
            return False
        if self._failed_s is not None and now.mono_s - self._failed_s < AGAIN_S:
            return False
        known = [one for one in copies(self._folder) if one.at <= now.at]
        due = last_due(now.at, self._settings.backup, self._settings.timezone)
        return not known or known[-1].at < due

    def _fail(self, error: StoreError, now_s: float) -> None:
        self._failed_s = now_s
        self._health.count("backup-failures")
        if str(error) != self._problem:
            log.warning("no backup: %s", error)
        self._problem = str(error)
        self._damaged = isinstance(error, StoreDamagedError)
