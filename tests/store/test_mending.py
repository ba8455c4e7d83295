"""Damaged data files are set aside, the last good backup comes in their place, sampling goes on."""

import random
import shutil
import threading
from collections import Counter
from collections.abc import Callable
from datetime import UTC, timedelta
from pathlib import Path

from fakes import FakeClock
from faults.extent import FULL, chance
from noonpot.core.cook import Cook, Event, EventKind
from noonpot.core.readings import Reading
from noonpot.core.stationfacts import Mended
from noonpot.errors import StoreDamagedError
from noonpot.ports import Batch
from noonpot.store.backup import copies, copy, place
from noonpot.store.connection import lock_of
from noonpot.store.mending import mended, sound
from noonpot.store.reader import Reader
from noonpot.store.sqlite import Store
from store.shelf import PROBES, alert, opened, reading, write_reading

FILES = 200 if FULL else 60
PAGE = 4096
NEVER = threading.Event()
Damage = Callable[[Path, random.Random], str]


def kept_by(store: Reader, clock: FakeClock) -> list[object]:
    """All that a store tells of what was measured, done and told."""
    now = clock.moment().at
    since = now - timedelta(days=2)
    told: list[object] = [(s.at, s) for p in PROBES for s in store.samples_of(p.name, since, now)]
    told += store.events_of("box", since, now)
    return [*told, *store.cooks()]


def lived(path: Path, clock: FakeClock, rounds: int) -> None:
    """A store that was written for a while, then killed: its log stays beside it."""
    with opened(path, clock) as store:
        _live(store, clock, rounds // 2)
        store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # noqa: SLF001
        _live(store, clock, rounds - rounds // 2)
        for end in ("", "-wal"):
            shutil.copy(f"{path}{end}", f"{path}{end}.killed")
    for end in ("", "-wal"):
        Path(f"{path}{end}.killed").replace(f"{path}{end}")
    Path(f"{path}-shm").unlink(missing_ok=True)


def _live(store: Store, clock: FakeClock, rounds: int) -> None:
    for number in range(rounds):
        now = clock.advance(2)
        samples = [reading(now, 50.0 + number % 40 + n, p.name) for n, p in enumerate(PROBES)]
        events, cooks, alerts = [], [], []
        if number % 50 == 10:
            events = [Event("box", now.at, EventKind.NOTE, {"text": f"note {number}"})]
            cooks = [Cook("box", now.at, "bread", stopped_at=now.at + timedelta(seconds=1))]
            alerts = [alert(f"{now.mono_s}", now)]
        store.write(now, Batch(samples, events, cooks, alerts=alerts))


def flip(file: Path, dice: random.Random) -> str:
    body = bytearray(file.read_bytes())
    for _ in range(dice.choice((1, 3, 30))):
        body[dice.randrange(len(body))] ^= 1 << dice.randrange(8)
    file.write_bytes(body)
    return "bits flipped"


def overwrite(file: Path, dice: random.Random) -> str:
    body = bytearray(file.read_bytes())
    at, length = dice.randrange(len(body)), dice.randrange(8, 600)
    body[at : at + length] = dice.randbytes(length)[: len(body) - at]
    file.write_bytes(body)
    return "bytes overwritten"


def behead(file: Path, dice: random.Random) -> str:
    body = bytearray(file.read_bytes())
    body[dice.randrange(100)] ^= 1 << dice.randrange(8)
    file.write_bytes(body)
    return "header flipped"


def truncate(file: Path, dice: random.Random) -> str:
    with file.open("r+b") as stream:
        stream.truncate(dice.choice((0, dice.randrange(file.stat().st_size))))
    return "truncated"


def blank(file: Path, dice: random.Random) -> str:
    with file.open("r+b") as stream:
        for _ in range(dice.randrange(1, 4)):
            stream.seek(PAGE * dice.randrange(file.stat().st_size // PAGE))
            stream.write(bytes(PAGE))
    return "pages zeroed"


def tear(file: Path, dice: random.Random) -> str:
    log = Path(f"{file}-wal")
    cut = dice.randrange(log.stat().st_size)
    body = log.read_bytes()[:cut] + dice.choice((b"", bytes(900), dice.randbytes(900)))
    log.write_bytes(body)
    return "log torn"


def lose(file: Path, dice: random.Random) -> str:
    log = Path(f"{file}-wal")
    if dice.random() < 0.5:
        log.unlink()
    else:
        shutil.copy(file, log)
    return "log lost or strange"


# What stands in a value has no check sum in SQLite: another value is as good as the right one.
UNSEEN = ("bits flipped", "bytes overwritten")
WAYS: tuple[Damage, ...] = (flip, overwrite, behead, truncate, blank, tear, lose)


def restarted(path: Path, folder: Path, clock: FakeClock) -> tuple[Store, Mended | None]:
    """As a daemon does at its start."""
    try:
        return sound(path, clock), None
    except StoreDamagedError:
        return mended(path, folder, clock, NEVER, UTC)


def test_damaged_in_whatever_way_a_file_never_holds_up_the_sampling(tmp_path: Path) -> None:
    whole, folder, clock = tmp_path / "whole.db", tmp_path / "backups", FakeClock()
    folder.mkdir()
    lived(whole, clock, 600)
    with sound(whole, clock) as store:
        in_backup = kept_by(store, clock)
        copy(whole, place(folder, clock.moment().at), clock, NEVER)
    lived(whole, clock, 600)
    original = {end: Path(f"{whole}{end}").read_bytes() for end in ("", "-wal")}
    with sound(whole, clock) as store:
        everything = {repr(row) for row in kept_by(store, clock)}
    closed = {"": whole.read_bytes()}  # without a log, which may hide the damage
    dice, outcomes = chance(), Counter[str]()
    for number in range(FILES):
        path = tmp_path / f"{number}" / "noonpot.db"
        path.parent.mkdir()
        damage = WAYS[number % len(WAYS)]
        bodies = original if damage in (tear, lose) or dice.random() < 0.3 else closed
        for end, body in bodies.items():
            Path(f"{path}{end}").write_bytes(body)
        lock_of(path).touch()
        way = damage(path, dice)
        store, found = restarted(path, folder, clock)
        with store:
            rows = kept_by(store, clock)
            store.register(PROBES)
            now = clock.advance(2)
            write_reading(store, now, 77.0)
            written = store.samples_of("box-pot", now.at - timedelta(seconds=1), now.at)
            assert [w.value for w in written if isinstance(w, Reading)][-1:] == [77.0], way
            alerts = store.unsent("mqtt", 10_000)
            assert alerts or found is not None
        if found is not None:
            assert rows == in_backup, f"{number}, {way}: not what the backup held"
            assert found.restored == copies(folder)[-1].at
            assert path.with_name(found.kept).exists()
            outcomes[f"{way}: restored"] += 1
        else:
            strange = [row for row in map(repr, rows) if row not in everything]
            assert not strange or way in UNSEEN, f"{number}, {way}: {strange[:3]}"
            outcomes[f"{way}: {'a value changed unseen' if strange else 'goes on as it was'}"] += 1
    print(*(f"{number:4} {what}" for what, number in sorted(outcomes.items())), sep="\n")
