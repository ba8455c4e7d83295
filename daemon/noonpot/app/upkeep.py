"""Keeps the data file: makes a backup a day, thins them, rolls up old readings, and knows how all
that fares.
"""

import logging
import threading
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from noonpot.core.stationfacts import Backup, Readings
from noonpot.errors import StoreDamagedError, StoreError
from noonpot.ports import Clock, Health, Signal
from noonpot.settings.values import BackupWishes, Settings
from noonpot.store.backup import copies, copy, make_room, own, place, spare_of, sweep, thin
from noonpot.store.retention import Rule
from noonpot.store.sqlite import Store
from noonpot.uplink.influx import SINK

log = logging.getLogger(__name__)

FOLDER = "backups"
FOLDER_MODE = 0o750
AGAIN_S = 3600.0
DAY_S = 86_400.0
MB = 1e6
DAYS_AT_ONCE = 8
"""So many days of old readings are rolled up in a day, which is caught up with soon, and spares the
card a day on which years are written anew."""
PAUSE_S = 0.1


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
    folder, wishes = _made_ready(settings), settings.backup
    made = place(folder, clock.moment().at)
    spare = spare_of(made, wishes.days, wishes.weeks)
    spare = make_room(file, folder, reserve_bytes, spare=spare)
    copy(file, made, clock, stop, spare)
    thin(folder, wishes.days, wishes.weeks)
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
    due = datetime.combine(local.date(), wishes.at, timezone).astimezone(UTC)
    if due > now:  # in UTC, for on the wall an hour comes twice, or never
        day = local.date() - timedelta(days=1)
        due = datetime.combine(day, wishes.at, timezone).astimezone(UTC)
    return due


def rule_of(settings: Settings) -> Rule | None:
    """Which readings are rolled up, None when none are."""
    wishes = settings.readings
    if wishes.whole_s is None:
        return None
    sinks = () if settings.influx is None else (SINK,)
    return Rule(wishes.whole_s, wishes.before_s, wishes.after_s, sinks)


class Upkeep:
    """Makes a backup when one is due, and rolls up old readings once a day. For a backup the clock
    must be set: a name with a wrong date would push out backups that are newer.
    """

    def __init__(
        self,
        settings: Settings,
        file: Path,
        clock: Clock,
        health: Health,
        store: Store | None = None,
    ) -> None:
        """Without a ``store`` nothing is rolled up."""
        self._settings = settings
        self._folder = folder_of(settings)
        self._file = file
        self._clock = clock
        self._health = health
        self._store = store
        self._rule = rule_of(settings)
        self._swept = False
        self._failed_s: float | None = None
        self._problem = ""
        self._damaged = False
        self._compared: datetime | None = None
        self._rolled_s: float | None = None

    def state(self) -> Backup | None:
        """How the backups fare, None when none are wanted."""
        if not self._settings.backup.enabled:
            return None
        known = copies(self._folder)
        last = known[-1].at if known else None
        return Backup(last, self._problem, self._damaged, self._compared)

    def readings(self) -> Readings | None:
        """How far back readings are there as they were read, None when that cannot be told."""
        try:
            return None if self._store is None else self._store.readings(self._rule)
        except StoreError:
            return None

    def taken_bytes(self) -> int:
        """What all backups take, where they lie on the card of the data file."""
        try:
            if self._folder.stat().st_dev != self._file.stat().st_dev:
                return 0
            return sum(known.path.stat().st_size for known in copies(self._folder))
        except OSError:
            return 0

    def tend(self, stop: threading.Event) -> None:
        """Do what is due; takes seconds to minutes, and ends early with ``stop``."""
        if self._settings.backup.enabled and self._due():
            self._back_up(stop)
        if self._store is not None and self._rule is not None:
            self._roll_up(self._store, self._rule, stop)

    def _back_up(self, stop: threading.Event) -> None:
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
        now = self._clock.moment()
        self._health.count("backups")
        log.info("backup %s made and compared in %.0f s", made, now.mono_s - now_s)
        self._problem, self._damaged, self._failed_s = "", False, None
        self._compared = now.at

    def _roll_up(self, store: Store, rule: Rule, stop: threading.Event) -> None:
        now_s = self._clock.moment().mono_s
        if self._rolled_s is not None and now_s - self._rolled_s < DAY_S:
            return
        readings, begun = 0, None
        try:
            stays = store.stays_whole(rule)
            while not self._clock.wait(stop, PAUSE_S):
                done = store.roll_up(rule, stays)
                readings += done.readings
                begun = done.until if begun is None else begun
                if not done.more or done.until - begun > DAYS_AT_ONCE * DAY_S:
                    break
        except StoreError as error:
            log.warning("old readings are not rolled up: %s", error)
        self._rolled_s = now_s
        if readings:
            self._health.count("roll-ups")
            log.info("%d old readings rolled up", readings)

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
