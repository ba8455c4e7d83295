"""Looks at the machine every now and then: its card, its supply, its channels, its absences."""

import os
from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path

from noonpot.app.supply import Supply
from noonpot.app.upkeep import Upkeep
from noonpot.core.stationfacts import Absence, Silent, Survey
from noonpot.errors import StoreError
from noonpot.ports import Clock
from noonpot.store.sqlite import Store

MB = 1e6
DAY_S = 86_400.0
TREND_EVERY_S = 3600.0
TREND_LEAST_S = 6 * 3600.0  # the pace of a shorter time is that of one cook, or of one backup
TREND_SIZES = 48  # two days of hours
MOST_COUNTED = 1000


class Trend:
    """What was free on a card through the last two days, and how long it will last so."""

    def __init__(self) -> None:
        self._sizes: deque[tuple[float, float]] = deque(maxlen=TREND_SIZES)

    def days_left(self, now_s: float, free_mb: float) -> float | None:
        """For how long the card has room at the pace of late, None while no pace shows."""
        if not self._sizes or now_s - self._sizes[-1][0] >= TREND_EVERY_S:
            self._sizes.append((now_s, free_mb))
        began_s, began_mb = self._sizes[0]
        used_mb = began_mb - free_mb
        if now_s - began_s < TREND_LEAST_S or used_mb <= 0:
            return None
        return free_mb / used_mb * (now_s - began_s) / DAY_S


class Surveyor:
    """Makes one survey after the other, in a thread that may wait for a slow card.

    ``lines`` tells of each channel that reaches people why it reaches nobody now, "" when it does.
    """

    def __init__(
        self,
        clock: Clock,
        store: Store,
        file: Path,
        supply: Supply,
        lines: Mapping[str, Callable[[], str]],
        upkeep: Upkeep | None = None,
    ) -> None:
        self._clock = clock
        self._store = store
        self._file = file
        self._supply = supply
        self._lines = lines
        self._upkeep = upkeep
        self._trend = Trend()
        self._silent_since_s: dict[str, float] = {}

    def survey(self) -> Survey:
        """All that can be seen now."""
        now_s = self._clock.moment().mono_s
        free_mb = self._free_mb()
        return Survey(
            mono_s=now_s,
            free_mb=free_mb,
            days_left=None if free_mb is None else self._days_left(now_s, free_mb),
            wal_mb=self._wal_mb(),
            slowest_write_s=self._store.slowest_write_s(),
            heat_c=self._supply.heat_c(),
            under_voltage=self._supply.under_voltage(),
            silent=tuple(self._silent(now_s)),
            channels=tuple(self._lines),
            absence=self._absence(),
            backup=None if self._upkeep is None else self._upkeep.state(),
        )

    def _days_left(self, now_s: float, free_mb: float) -> float | None:
        """Backups give room back when it is needed, so what they take is not lost."""
        taken_mb = 0.0 if self._upkeep is None else self._upkeep.taken_bytes() / MB
        return self._trend.days_left(now_s, free_mb + taken_mb)

    def _free_mb(self) -> float | None:
        try:
            card = os.statvfs(self._file.parent)
        except OSError:
            return None
        return card.f_bavail * card.f_frsize / MB

    def _wal_mb(self) -> float | None:
        try:
            return self._file.with_name(f"{self._file.name}-wal").stat().st_size / MB
        except OSError:
            return None

    def _silent(self, now_s: float) -> list[Silent]:
        silent = []
        for channel, line in self._lines.items():
            reason = line()
            if not reason:
                self._silent_since_s.pop(channel, None)
                continue
            since_s = self._silent_since_s.setdefault(channel, now_s)
            silent.append(Silent(channel, now_s - since_s, reason, self._waiting(channel)))
        return silent

    def _waiting(self, channel: str) -> int:
        try:
            return len(self._store.unsent(channel, MOST_COUNTED))
        except StoreError:
            return 0

    def _absence(self) -> Absence | None:
        try:
            return self._store.absence()
        except StoreError:
            return None
