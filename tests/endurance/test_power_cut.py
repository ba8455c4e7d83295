"""The power is cut at any moment; the files are rebuilt as a card may hold them, and opened."""

import random
import threading
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC
from pathlib import Path
from shutil import rmtree

import pytest

from endurance.card import unreachable
from endurance.extent import FULL, Tell, chance
from endurance.powercut import Disk, Note, Recorder
from endurance.rounds_writer import CHANNEL, STEP_S, batch, clock_at, rounds_in
from fakes import FakeClock
from noonpot.errors import StoreDamagedError, StoreError
from noonpot.ports import Signal
from noonpot.store.backup import copies, copy, place, prove
from noonpot.store.mending import mended, sound
from noonpot.store.sqlite import Store
from store.shelf import PROBES

ROUNDS, CUTS, MENDS = (240, 1000, 300) if FULL else (75, 60, 24)
PAGE = 4096
NEVER = threading.Event()

pytestmark = pytest.mark.skipif(bool(unreachable()), reason=unreachable())


class Life:
    """A store that is written, and what it said it had written, noted as it happens."""

    def __init__(self, path: Path, recorder: Recorder, *, careless: bool = False) -> None:
        self.path = path
        self.folder = path.parent / "backups"
        self.clock = clock_at(0)
        self.count = 0
        self._recorder = recorder
        self._careless = careless
        self.store = self._open()

    def write(self, rounds: int) -> None:
        """So many rounds more."""
        for _ in range(rounds):
            now = self.clock.advance(STEP_S)
            self.store.write(now, batch(self.count, now))
            self.count += 1
            self._recorder.tell(("rounds", self.count))
            if self.count % 7 == 0:
                self.store.settle(CHANNEL, str(self.count // 7 - 1), "sent")
                self._recorder.tell(("settled", self.count // 7))
            if self.count % 10 == 0:
                self.store.keep_sun_day(
                    f"day {self.count}", bytes(self.count % 251 for _ in range(40_000))
                )

    def back_up(self) -> None:
        """A backup, with rounds written between its steps."""
        self.folder.mkdir(exist_ok=True)
        target = place(self.folder, self.clock.moment().at)
        copy(self.path, target, Between(self), NEVER)
        self._recorder.tell(("backup", target.name))

    def start_anew(self) -> None:
        """End properly, and begin again."""
        self.store.end()
        self.store.close()
        self.store = self._open()

    def _open(self) -> Store:
        store = sound(self.path, self.clock)
        if self._careless:
            store._db.execute("PRAGMA synchronous = OFF")  # noqa: SLF001  what nobody may set
        store.register(PROBES)
        store.begin()
        return store


class Between(FakeClock):
    """The clock of a backup: whoever waits on it lets the watch write."""

    def __init__(self, life: Life) -> None:
        super().__init__()
        self._life = life

    def wait(self, signal: Signal, timeout_s: float) -> bool:
        del timeout_s
        self._life.write(1)
        return signal.is_set()


def lived(path: Path, monkeypatch: pytest.MonkeyPatch, *, careless: bool = False) -> Sequence[Note]:
    """Notes of a life with checkpoints, new starts and a backup amid the writing."""
    recorder = Recorder()
    path.parent.mkdir()
    with monkeypatch.context() as patch, recorder.running(patch.setattr):
        life = Life(path, recorder, careless=careless)
        life.write(ROUNDS // 3)
        life.back_up()
        life.write(ROUNDS // 3)
        life.start_anew()
        life.write(ROUNDS // 3)
        life.back_up()
        life.store.close()
    return recorder.notes


def cut_points(notes: Sequence[Note], dice: random.Random, count: int) -> Sequence[int]:
    """Where to cut: half of them anywhere, half where more than the log is written."""
    rare = [
        number
        for number, note in enumerate(notes)
        if note.what == "name" or (note.ask is not None and not note.ask.path.name.endswith("-wal"))
    ]
    anywhere = (dice.randrange(1, len(notes) + 1) for _ in range(count // 2))
    return sorted([*anywhere, *(dice.choice(rare) + 1 for _ in range(count - count // 2))])


def laid_out(found: Mapping[Path, bytes], old: Path, new: Path) -> Path:
    """Put the files of a folder into another; returns the data file there."""
    for path, body in found.items():
        target = new / path.relative_to(old)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(body)
    return new / "noonpot.db"


def told(disk: Disk) -> Mapping[str, object]:
    """The last of each kind that was acknowledged."""
    known: dict[str, object] = {}
    for one in disk.told:
        assert isinstance(one, tuple)
        known[one[0]] = one[1]
    return known


def looked_at(path: Path, known: Mapping[str, object]) -> str:
    """Open what was found as the daemon does, and hold it against what was acknowledged."""
    rounds = known.get("rounds", 0)
    assert isinstance(rounds, int)
    backups = copies(path.parent / "backups")
    for one in backups:
        prove(one.path)
    if "backup" in known:
        assert known["backup"] in [one.path.name for one in backups], "a backup is lost"
    clock = clock_at(rounds + 100)
    try:
        store = sound(path, clock)
    except StoreDamagedError:
        assert not known, "what was acknowledged cannot be opened"
        return "empty before the first word"
    with store:
        count = rounds_in(store)
        assert count in (rounds, rounds + 1), f"{rounds} acknowledged, {count} there"
        settled = int(known.get("settled", 0))  # type: ignore[call-overload]
        waiting = [int(a.id) for a in store.unsent(CHANNEL, count + 10)]
        assert waiting in (list(range(settled, count)), list(range(settled + 1, count)))
        store.register(PROBES)
        now = clock.advance(STEP_S)
        store.write(now, batch(count, now))
        assert rounds_in(store) == count + 1
    return "the round under way is there" if count > rounds else "as acknowledged"


def cut(
    notes: Sequence[Note], points: Sequence[int], disk: Disk, dice: random.Random
) -> Iterator[tuple[str, Mapping[Path, bytes]]]:
    """The files after a cut at each of the points, and the words for it."""
    done = 0
    for point in points:
        for note in notes[done:point]:
            disk.live(note)
        done = point
        yield f"cut after note {point} of {len(notes)}", disk.found(dice)


def test_a_power_cut_loses_nothing_that_was_acknowledged(
    scratch: Path, monkeypatch: pytest.MonkeyPatch, figure: Tell
) -> None:
    dice, outcomes = chance(), Counter[str]()
    home, again = scratch / "life", scratch / "again"
    notes = lived(home / "noonpot.db", monkeypatch)
    points, disk = cut_points(notes, dice, CUTS), Disk()
    for where, found in cut(notes, points, disk, dice):
        try:
            outcomes[looked_at(laid_out(found, home, again), told(disk))] += 1
        except (AssertionError, StoreError) as error:
            raise AssertionError(f"{where}: {error}") from error
        rmtree(again)
    print(*(f"{count:5} {what}" for what, count in sorted(outcomes.items())), sep="\n")
    syncs = sum(note.ask is not None and note.ask.what == "sync" for note in notes)
    figure(
        2,
        f"{len(points)} power cuts in {len(notes)} steps of a life, {syncs} of them syncs",
        "0 unopenable, 0 acknowledged rows lost",
        "0, 0",
    )


def test_a_store_that_would_not_wait_for_the_card_is_caught(
    scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So the test above could fail."""
    dice, lost = chance(), 0
    home, again = scratch / "life", scratch / "again"
    notes = lived(home / "noonpot.db", monkeypatch, careless=True)
    disk = Disk()
    for _, found in cut(notes, cut_points(notes, dice, 8), disk, dice):
        try:
            looked_at(laid_out(found, home, again), told(disk))
        except (AssertionError, StoreError):
            lost += 1
        rmtree(again)
    assert lost >= 2


def spoilt(path: Path, monkeypatch: pytest.MonkeyPatch) -> int:
    """A life that ends with a damaged data file, a log beside it, and a good backup. Returns how
    many rounds that holds.
    """
    recorder = Recorder()
    path.parent.mkdir()
    with monkeypatch.context() as patch, recorder.running(patch.setattr):
        life = Life(path, recorder)
        life.write(30)
        kept = life.count
        life.back_up()
        life.write(30)
        life.start_anew()
        life.write(5)
        bodies = {end: Path(f"{path}{end}").read_bytes() for end in ("", "-wal")}
        life.store.close()
    for end, body in bodies.items():
        Path(f"{path}{end}").write_bytes(body)
    with path.open("r+b") as file:
        file.seek(PAGE)
        file.write(bytes(PAGE))
    return kept


def test_a_power_cut_while_a_damaged_file_is_mended_leaves_it_to_be_mended(
    scratch: Path, monkeypatch: pytest.MonkeyPatch, figure: Tell
) -> None:
    dice, outcomes = chance(), Counter[str]()
    home, again = scratch / "life", scratch / "again"
    path = home / "noonpot.db"
    kept = spoilt(path, monkeypatch)
    there = [file for file in home.rglob("*") if file.is_file() and file.suffix != ".db-shm"]
    disk, recorder = Disk(), Recorder()
    for file in there:
        disk.lie(file)
    original = path.read_bytes()
    clock = clock_at(100)
    with monkeypatch.context() as patch, recorder.running(patch.setattr):
        with pytest.raises(StoreDamagedError):
            sound(path, clock)
        store, _ = mended(path, home / "backups", clock, NEVER, UTC)
        store.close()
    notes = recorder.notes
    # Where names wait for the card, the most can be found amiss.
    waiting = [
        number
        for number in range(1, len(notes))
        if notes[number - 1].what == "name" != notes[number].what
    ]
    anywhere = [dice.randrange(len(notes) + 1) for _ in range(MENDS // 2)]
    points = sorted(anywhere + waiting * MENDS)
    for where, found in cut(notes, points, disk, dice):
        file = laid_out(found, home, again)
        try:
            store, what = sound(file, clock), "was mended"
        except StoreDamagedError:
            store, _ = mended(file, again / "backups", clock, NEVER, UTC)
            what = "is mended at the next start"
        with store:
            count = rounds_in(store)
        assert count >= kept, f"{where}: {kept} rounds in the backup, {count} back"
        asides = [one for one in again.glob("noonpot-damaged-*.db") if one.read_bytes() == original]
        assert asides, f"{where}: the damaged file is not kept"
        outcomes[what] += 1
        rmtree(again)
    print(*(f"{count:5} {what}" for what, count in sorted(outcomes.items())), sep="\n")
    figure(
        2,
        f"{len(points)} power cuts in {len(notes)} steps of mending a damaged file",
        "0 not mended, 0 without the damaged file kept",
        "0, 0",
    )
