"""The clocks: the machine's own and a faster one. No other module asks the time."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

from noonpot.core.moment import Moment, is_plausible
from noonpot.ports import Signal

SYNCHRONISED = Path("/run/systemd/timesync/synchronized")
BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class SystemClock:
    """The machine's clock.

    A Raspberry Pi has no clock of its own: until the network has set it, its wall time is a guess.
    ``wait_for_sync`` tells whether this machine announces the setting; where it does not (another
    time service, a container), the wall clock is trusted from the start, if what it shows can be.
    """

    def __init__(self, *, wait_for_sync: bool = False, synchronised: Path = SYNCHRONISED) -> None:
        self._synchronised = synchronised if wait_for_sync else None
        self._boot_id = BOOT_ID.read_text().strip() if BOOT_ID.exists() else uuid4().hex

    @property
    def boot_id(self) -> str:
        """The kernel's name for this boot."""
        return self._boot_id

    def moment(self) -> Moment:
        """Now."""
        at = datetime.now(UTC)
        announced = self._synchronised is None or self._synchronised.exists()
        return Moment(at, time.monotonic(), announced and is_plausible(at))

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        """Wait for the signal, at most so many seconds."""
        return signal.wait(max(0.0, timeout_s))


class FastClock:
    """A clock that starts at a chosen time and runs ``rate`` times faster than life.

    It stands still until it is let go, so that preparations cost no simulated time.
    """

    def __init__(self, start: datetime, rate: float) -> None:
        self._start = start
        self._rate = rate
        self._origin: float | None = None
        self._boot_id = f"simulated-{uuid4().hex}"

    def go(self, origin_s: float | None = None) -> None:
        """Begin to run; a clock in another process with the same ``origin_s`` shows the same."""
        self._origin = time.monotonic() if origin_s is None else origin_s

    @property
    def origin_s(self) -> float | None:
        """The machine's monotonic time at which it began to run [s], None while it stands."""
        return self._origin

    @property
    def boot_id(self) -> str:
        """A new name for every run: simulated time never continues."""
        return self._boot_id

    def moment(self) -> Moment:
        """Now, in simulated time."""
        origin = self._origin
        elapsed = 0.0 if origin is None else (time.monotonic() - origin) * self._rate
        return Moment(self._start + timedelta(seconds=elapsed), elapsed)

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        """Wait for the signal, at most so many simulated seconds."""
        return signal.wait(max(0.0, timeout_s) / self._rate)
