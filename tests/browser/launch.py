"""A daemon with its page in a process of its own, on a clock that may run faster than life.

Run: python launch.py CONFIGURATION START RATE. It ends with SIGTERM.
"""

import logging
import signal
import sys
from datetime import timedelta
from pathlib import Path

from noonpot.app.buses import opened
from noonpot.app.daemon import Daemon, Parts
from noonpot.app.machine import open_store
from noonpot.app.pagekeeper import PageKeeper
from noonpot.clock import FastClock, SystemClock
from noonpot.core.moment import iso, utc
from noonpot.ports import Health, Surroundings
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.reading import load
from noonpot.suntable import SunTables


def main(file: Path, start: str, rate: float) -> None:
    """Watch and serve until told to stop."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s %(message)s")
    settings, clock, health = load(file), FastClock(utc(start), rate), Health()

    def hello() -> dict[str, object]:
        return {
            "config": str(file),
            "data": str(settings.data),
            "clock": {"start": iso(utc(start)), "rate": rate, "origin_s": clock.origin_s},
            "bind": settings.page.bind,
            "port": settings.page.port,
        }

    with open_store(settings, clock) as store:
        sun = SunTables(store)
        for day in (0, 1):  # now, while the clock stands still
            sun.day(settings.station.place, utc(start).date() + timedelta(days=day))
        around = Surroundings(clock, settings.station.place, sun)
        keeper = PageKeeper(settings.station.name, hello, SystemClock())
        with opened(str(file), settings.buses, around) as buses:
            notice = ServiceNotice({})
            daemon = Daemon(settings, Parts(clock, store, buses, sun, [keeper], health, notice))

            def end(*_: object) -> None:
                daemon.stop.set()
                daemon.kick()

            signal.signal(signal.SIGTERM, end)
            clock.go()
            keeper.start()
            daemon.run()
        keeper.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], float(sys.argv[3]))
