"""A simulated day with all parts running, and a simulated person who does what the alerts ask."""

import signal
import socket
import tempfile
import threading
from collections import deque
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from rich.console import Console, Group
from rich.live import Live
from rich.table import Table
from rich.text import Text

from noonpot.app.buses import opened
from noonpot.app.daemon import Daemon, Parts
from noonpot.app.machine import open_store
from noonpot.app.pagekeeper import PageKeeper
from noonpot.clock import FastClock, SystemClock
from noonpot.core.alert import Alert
from noonpot.core.cook import Event, EventKind
from noonpot.core.moment import Moment, utc
from noonpot.ports import Clock, Delivery, Health, Notifier, Outcome, Surroundings
from noonpot.sdnotify import ServiceNotice
from noonpot.settings.files import supplied
from noonpot.settings.reading import load
from noonpot.settings.values import Settings
from noonpot.store.inbox import hand_in
from noonpot.suntable import SunTables

START = datetime(2026, 6, 21, 13, 45, tzinfo=UTC)  # 07:45 local time
END = START + timedelta(hours=10)
WALK_S = 240.0
LOOK_S = 0.25
MOST_SHOWN = 12
LOCAL = "127.0.0.1"
PORTS = range(8080, 8180)
PLANS: Mapping[str, Mapping[str, str]] = {
    "box": {"food": "bread", "mass_kg": "0.6", "start_c": "27"},
    "iron": {"food": "stew", "mass_kg": "1.5", "start_c": "20"},
}


@dataclass(slots=True)
class Person:
    """Hears the alerts and, some minutes later, does what they ask. Is a channel of its own."""

    inbox: Path
    clock: Clock
    sun: SunTables
    settings: Settings
    heard: deque[Alert] = field(default_factory=deque)
    states: dict[str, Mapping[str, object]] = field(default_factory=dict)
    done: set[str] = field(default_factory=set)
    _errands: list[tuple[float, str, EventKind]] = field(default_factory=list)

    channel = "person"

    def tell(self, alert: Alert) -> Delivery:
        """Hear an alert and plan an errand."""
        self.heard.append(alert)
        asked = {"preheated": EventKind.LOAD, "turn": EventKind.AIM, "done": EventKind.UNLOAD}
        if alert.alarm in asked:
            due_s = self.clock.moment().mono_s + WALK_S
            self._errands.append((due_s, alert.cooker, asked[alert.alarm]))
        return Delivery(Outcome.SENT)

    def show(self, topic: str, payload: Mapping[str, object]) -> None:
        """Look at a state."""
        self.states[topic] = payload

    def close(self) -> None:
        """Go home."""

    def begin(self) -> None:
        """Put both cookers into the morning sun; food that needs no hot pot goes in at once."""
        now = self.clock.moment()
        for cooker, plan in PLANS.items():
            self._do(now, cooker, EventKind.START, {"food": plan["food"]})
            self._do(now, cooker, EventKind.AIM)
            if self.settings.foods[plan["food"]].loading_pot_c is None:
                self._do(now, cooker, EventKind.LOAD)

    def act(self) -> None:
        """Do the errands that are due."""
        now = self.clock.moment()
        due = [errand for errand in self._errands if errand[0] <= now.mono_s]
        self._errands = [errand for errand in self._errands if errand not in due]
        for _, cooker, kind in due:
            if cooker in self.done:
                continue
            self._do(now, cooker, kind)
            if kind is EventKind.UNLOAD:
                self._do(now, cooker, EventKind.STOP, {})
                self.done.add(cooker)

    def _do(
        self, now: Moment, cooker: str, kind: EventKind, detail: Mapping[str, str] | None = None
    ) -> None:
        if detail is None:
            detail = self._aim(now) if kind is EventKind.AIM else PLANS[cooker]
            detail = {} if kind is EventKind.UNLOAD else detail
        hand_in(self.inbox, Event(cooker, now.at, kind, detail))

    def _aim(self, now: Moment) -> dict[str, str]:
        """Point half an hour ahead of the sun."""
        ahead = now.at + timedelta(minutes=20)
        place = self.settings.station.place
        sun = self.sun.day(place, ahead.date()).at(ahead)
        return {"azimuth": f"{sun.azimuth_deg:.1f}", "elevation": f"{sun.elevation_deg:.1f}"}


def play(rate: float, seed: int, console: Console | None = None, *, page: bool = False) -> Person:
    """Play the day in the terminal, and on a page if so wished; returns the person with all that
    was heard.
    """
    console = console or Console()
    with tempfile.TemporaryDirectory(prefix="noonpot-demo-") as folder:
        settings = _settings(Path(folder), seed)
        clock = FastClock(START, rate)
        with open_store(settings, clock) as store:
            sun = SunTables(store)
            for day in (START.date(), END.date() + timedelta(days=1)):
                sun.day(settings.station.place, day)  # now, while the clock stands still
            person = Person(settings.data / "inbox", clock, sun, settings)
            around = Surroundings(clock, settings.station.place, sun)
            with opened("demo", settings.buses, around) as buses:
                keeper = _page(settings, clock, rate, console) if page else None
                notifiers: list[Notifier] = [person, *([keeper] if keeper else [])]
                parts = Parts(clock, store, buses, sun, notifiers, Health(), ServiceNotice({}))
                daemon = Daemon(settings, parts)
                clock.go()
                if keeper is not None:
                    keeper.start()
                try:
                    _live(daemon, person, clock, console)
                finally:
                    if keeper is not None:
                        keeper.close()
    _summary(person, console)
    return person


def _settings(folder: Path, seed: int) -> Settings:
    settings = load(supplied("demo.toml"))
    buses = tuple(replace(b, options={**b.options, "seed": seed}) for b in settings.buses)
    return replace(settings, data=folder, buses=buses)


def _page(settings: Settings, clock: FastClock, rate: float, console: Console) -> PageKeeper | None:
    """The page of this day; it shows the same simulated time."""
    port = _free_port()
    if port is None:
        console.print("No port is free for the page, so it is not served.")
        return None
    console.print(f"The same day on a page, while it lasts: http://localhost:{port}")

    def hello() -> Mapping[str, object]:
        return {
            "config": str(supplied("demo.toml")),
            "data": str(settings.data),
            "clock": {"start": START.isoformat(), "rate": rate, "origin_s": clock.origin_s},
            "bind": LOCAL,
            "port": port,
        }

    return PageKeeper(settings.station.name, hello, SystemClock())


def _free_port() -> int | None:
    for port in PORTS:
        with socket.socket() as trial, suppress(OSError):
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind((LOCAL, port))
            return port
    return None


def _live(daemon: Daemon, person: Person, clock: Clock, console: Console) -> None:
    watching = threading.Thread(target=daemon.run, name="rounds")
    enough = threading.Event()
    try:
        watching.start()
        person.begin()
        with _heard(enough), Live(console=console, auto_refresh=False, transient=True) as live:
            while (now := clock.moment()).at < END and person.done != set(PLANS):
                if enough.is_set():
                    raise KeyboardInterrupt
                person.act()
                live.update(_view(person, now), refresh=True)
                enough.wait(LOOK_S)
    finally:
        daemon.stop.set()
        daemon.kick()
        if watching.ident is not None:
            watching.join()


@contextmanager
def _heard(enough: threading.Event) -> Iterator[None]:
    """Let Ctrl-C be noted: as an exception it may fall where Python drops it."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, lambda *_: enough.set())
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _view(person: Person, now: Moment) -> Group:
    local = person.settings.timezone
    table = Table(title=f"orchard, {now.at.astimezone(local):%H:%M} local time (simulated)")
    for column in (
        "cooker",
        "pot",
        "core",
        "target",
        "sun is off by",
        "done about",
        "cook",
    ):
        table.add_column(column)
    for cooker in PLANS:
        state = person.states.get(f"{cooker}/now", {})
        forecast = person.states.get(f"{cooker}/forecast", {})
        cook = state.get("cook")
        table.add_row(
            cooker,
            _degrees(state.get("pot_c")),
            _degrees(state.get("core_c")),
            _degrees(cook.get("target_c") if isinstance(cook, Mapping) else None),
            _degrees(state.get("misaim_deg"), "°"),
            _expected(forecast, person),
            _cook(cook),
        )
    lines = [_line(alert, person) for alert in list(person.heard)[-MOST_SHOWN:]]
    return Group(table, Text("On the phone:", style="bold"), *lines)


def _cook(cook: object) -> str:
    if not isinstance(cook, Mapping):
        return "-"
    return f"{cook['food']}, {'in the pot' if cook['loaded_at'] else 'heating the pot'}"


def _degrees(value: object, unit: str = " °C") -> str:
    return f"{value:.0f}{unit}" if isinstance(value, int | float) else "-"


def _time(text: object, person: Person) -> str:
    if not isinstance(text, str):
        return "-"
    return f"{utc(text).astimezone(person.settings.timezone):%H:%M}"


def _expected(forecast: Mapping[str, object], person: Person) -> str:
    chance = forecast.get("p_done")
    if not isinstance(chance, int | float):
        return "-"
    return f"{_time(forecast.get('done_p50'), person)} ({100 * chance:.0f} %)"


def _line(alert: Alert, person: Person) -> Text:
    return Text(f"  {alert.at.astimezone(person.settings.timezone):%H:%M}  {alert.text}")


def _summary(person: Person, console: Console) -> None:
    console.print(f"\n[bold]A person would have received {len(person.heard)} messages:[/bold]")
    for alert in person.heard:
        console.print(_line(alert, person))
    for cooker, plan in PLANS.items():
        word = "done and taken out" if cooker in person.done else "not done before the evening"
        console.print(f"{cooker}: {plan['food']} {word}")
    console.print(
        "Invented day, invented cookers. Next: 'noonpot init' for your own; README.md tells how."
    )
