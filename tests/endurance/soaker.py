"""The whole daemon in a fast time: python soaker.py CONFIG RATE

All is made as by ``noonpot run``, with another clock. A person cooks three meals a day and turns
the cookers. It says ``ready`` when the time begins to run, and ends with SIGTERM.
"""

import signal
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

from endurance.soaking import COOKERS
from noonpot.app import running
from noonpot.app.daemon import Daemon
from noonpot.app.hearing import INBOX
from noonpot.clock import FastClock
from noonpot.core.cook import Event, EventKind
from noonpot.settings.reading import load
from noonpot.store.inbox import hand_in

START = datetime(2026, 6, 21, 13, 0, tzinfo=UTC)  # 07:00 local time
MEAL_S, COOK_S, TURN_S = 4 * 3600, 3 * 3600, 1800


def deeds(hours: int) -> list[tuple[float, str, EventKind, dict[str, str]]]:
    """What is done, and how many seconds after the begin."""
    done = []
    for begin_s in range(600, hours * 3600 - COOK_S, MEAL_S):
        for number, cooker in enumerate(COOKERS):
            at_s = begin_s + 120.0 * number
            load = {"food": "stew", "mass_kg": "1.2", "start_c": "25"}
            done.append((at_s, cooker, EventKind.START, {"food": "stew"}))
            done.append((at_s + 10, cooker, EventKind.LOAD, load))
            for turn_s in range(20, COOK_S, TURN_S):
                azimuth = str((90 + (at_s + turn_s) / 240) % 360)
                aim = {"azimuth": azimuth, "elevation": "45"}
                done.append((at_s + turn_s, cooker, EventKind.AIM, aim))
            done.append((at_s + COOK_S, cooker, EventKind.UNLOAD, {}))
            done.append((at_s + COOK_S + 10, cooker, EventKind.STOP, {}))
    return sorted(done, key=lambda deed: deed[0])


def live(daemon: Daemon, clock: FastClock, inbox: Path) -> None:
    """Do what is to be done, when it is."""
    for at_s, cooker, kind, detail in deeds(48):
        if clock.wait(daemon.stop, at_s - clock.moment().mono_s):
            return
        hand_in(inbox, Event(cooker, clock.moment().at, kind, detail))


def main(file: Path, rate: float) -> None:
    """Run until told to stop."""
    clock = FastClock(START, rate)
    running.system_clock = lambda: clock  # type: ignore[attr-defined,assignment,return-value]
    settings = load(file)
    with running.made(file) as daemon:
        for day in range(3):
            date = (START + timedelta(days=day - 1)).date()
            daemon._parts.sun.day(settings.station.place, date)  # noqa: SLF001  the time stands still

        def end(*_: object) -> None:
            daemon.stop.set()
            daemon.kick()

        signal.signal(signal.SIGTERM, end)
        person = threading.Thread(target=live, args=(daemon, clock, settings.data / INBOX))
        clock.go()
        person.start()
        print("ready", flush=True)
        daemon.run()
        person.join()


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]))
