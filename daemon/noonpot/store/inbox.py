"""How a person's word reaches the daemon: a file for each event, in a folder.

The data file has one writer, so a command does not write there: it hands a letter in. The letter is
complete or not there at all (written aside, forced to disk, then renamed), and it stays until its
event is in the store. Its name goes with the event as ``uid``: a letter that is there again after a
crash is known by it, and is not taken twice.

A letter may lie there while the clock of the station is set. One that says when it was written by
the monotonic clock too is read by the wall clock as it is by then.
"""

import json
import os
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from uuid import uuid4

from noonpot.core.cook import Event, EventKind
from noonpot.core.detail import detail_text
from noonpot.core.moment import Moment, is_plausible, utc
from noonpot.core.names import meant
from noonpot.core.orders import LAST_YEAR
from noonpot.core.strictjson import parsed
from noonpot.errors import StoreError
from noonpot.ports import Clock, Letter
from noonpot.store.cooks import UID

LONGEST_BYTES = 16_384
FOLDER_MODE = 0o2770  # members of the daemon's group may hand in; the files become the group's
FILE_MODE = 0o640
REFUSED = "refused"
ORDER = count()  # two events of one instant stay in the order in which they were handed in
SUFFIX = ".json"
NAME = re.compile(r"[A-Za-z0-9.-]{1,200}", re.ASCII)
KEYS = {"cooker", "at", "kind", "detail"}
STAMP = {"boot", "mono_s"}
STEP_S = 2.0  # clocks further apart than this were set in between


def hand_in(folder: Path, event: Event, name: str = "", clock: Clock | None = None) -> str:
    """Put an event into the inbox; returns the name of its letter. It is safe on disk then.

    Letters are taken in the order of their names, and each name once: who gives one, so that doing
    it again has no effect, begins it with the time as is done here. ``clock`` is the one that gave
    the event its time, just now.
    Raises StoreError when the folder cannot be written, or a word of the event cannot be.
    """
    name = name or f"{event.at.timestamp():017.6f}-{next(ORDER):06d}-{uuid4().hex}"
    body: dict[str, object] = {
        "cooker": event.cooker,
        "at": event.at.isoformat(),
        "kind": event.kind,
        "detail": dict(event.detail),
    }
    if clock is not None:
        body |= {"boot": clock.boot_id, "mono_s": clock.moment().mono_s}
    if wrong := _unwritable(event):
        raise StoreError(f"{wrong!r} is no text that can be kept; type it anew")
    aside = folder / f".{uuid4().hex}"
    try:
        with os.fdopen(
            os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE), "w"
        ) as file:
            json.dump(body, file, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        aside.rename(folder / f"{name}{SUFFIX}")
        _force(folder)
    except OSError as error:
        raise StoreError(
            f"inbox {folder}: {error.strerror}; is the daemon set up, and are you in its group?"
        ) from error
    return name


def refusal(folder: Path, name: str) -> str | None:
    """Why a letter was refused, None when it was not, or not yet."""
    note = folder / REFUSED / f"{name}.txt"
    return note.read_text().strip() if note.exists() else None


def waiting(folder: Path, name: str) -> Event | None:
    """The event of a letter that waits, None when none of this name does that can be read."""
    if Path(name).name != name:
        return None
    try:
        return _read(folder / f"{name}{SUFFIX}", name)
    except (OSError, ValueError, RecursionError):
        return None


class FileInbox:
    """The daemon's side of the folder; ``known`` tells whether an event of this uid is stored, and
    ``clock`` what the time is for letters that were written before it was set.
    """

    def __init__(
        self, folder: Path, known: Callable[[str], bool], clock: Clock | None = None
    ) -> None:
        """Raises StoreError when the folder cannot be made."""
        self._folder = folder
        self._known = known
        self._clock = clock
        self._taken: set[str] = set()
        try:
            for made in (folder, folder / REFUSED):
                made.mkdir(parents=True, exist_ok=True)
                made.chmod(FOLDER_MODE)
        except OSError as error:
            raise StoreError(
                f"inbox {folder}: {error.strerror}; let the daemon's user own the folder"
            ) from error

    def take(self) -> Sequence[Letter]:
        """The letters that came since the last call, oldest first.

        One whose event was in the store before is put away; one that cannot be read is refused.
        """
        letters = []
        for path in sorted(self._folder.glob(f"[!.]*{SUFFIX}")):
            name = path.stem
            if name in self._taken:
                continue
            if NAME.fullmatch(name) and self._known(name):
                self._forget(name)
                continue
            try:
                letters.append(Letter(name, _read(path, name, self._clock)))
                self._taken.add(name)
            except (OSError, ValueError, RecursionError) as error:
                self._put_aside(name, str(error))
        return letters

    def done(self, letter: Letter) -> None:
        """The event is in the store: put the letter away."""
        self._forget(letter.name)

    def refuse(self, letter: Letter, reason: str) -> None:
        """The event does not fit: keep the letter aside, with the reason for its writer."""
        self._put_aside(letter.name, reason)

    def _path(self, name: str) -> Path:
        return self._folder / f"{name}{SUFFIX}"

    def _forget(self, name: str) -> None:
        """Put a letter away for good. One that the card will not let go is not looked at again."""
        self._taken.add(name)
        with suppress(OSError):
            self._path(name).unlink(missing_ok=True)
            self._taken.discard(name)

    def _put_aside(self, name: str, reason: str) -> None:
        """Keep a letter with the reason. A full card keeps neither, and stops nobody."""
        aside = self._folder / REFUSED
        self._taken.add(name)
        with suppress(OSError):
            (aside / f"{name}.txt").write_text(f"{reason}\n", errors="backslashreplace")
        with suppress(OSError):
            self._path(name).rename(aside / f"{name}{SUFFIX}")
            self._taken.discard(name)


def _read(path: Path, name: str, clock: Clock | None = None) -> Event:
    if NAME.fullmatch(name) is None:
        raise ValueError("the name of a letter is letters, digits, dots and dashes")
    if not path.is_file() or path.is_symlink():
        raise ValueError("this is no file; hand events in with 'noonpot cook'")
    with path.open("rb") as file:
        text = file.read(LONGEST_BYTES + 1)
    if len(text) > LONGEST_BYTES:
        raise ValueError(f"the letter is longer than {LONGEST_BYTES} bytes; say it in fewer words")
    body = parsed(text)
    if not isinstance(body, dict) or body.keys() - STAMP != KEYS:
        raise ValueError("the letter must have cooker, at, kind and detail, and nothing else")
    detail = body["detail"]
    words = [body["cooker"], body["at"], body["kind"]]
    words += detail.values() if isinstance(detail, dict) else [None]
    if not all(isinstance(word, str) for word in words):
        raise ValueError("cooker, at, kind and all that is in detail must be text")
    if body["kind"] not in list(EventKind):
        raise ValueError(f"there is no event {body['kind']!r}; {meant(body['kind'], EventKind)}")
    detail_text(detail)  # it must be possible to write it down in a recording
    kind = EventKind(body["kind"])
    event = Event(body["cooker"], _time(body, clock), kind, {**detail, UID: name})
    if wrong := _unwritable(event):
        raise ValueError(f"{wrong!r} is no text that can be kept")
    return event


def _time(body: Mapping[str, object], clock: Clock | None) -> datetime:
    """When a letter was written, by the clock as it is now. Raises ValueError when that is no time,
    or one that only a clock that was not set can have shown.
    """
    at = utc(str(body["at"]))
    if at.year >= LAST_YEAR:
        raise ValueError(f"at must be before the year {LAST_YEAR}; set the clock, say it again")
    if clock is None:
        return at
    now, mono_s = clock.moment(), body.get("mono_s")
    if body.get("boot") == clock.boot_id and isinstance(mono_s, int | float):
        return _by_the_clock_of(now, mono_s, at)
    if now.trusted and not is_plausible(at):
        raise ValueError("this was said before the clock was set; say it again")
    return at


def _by_the_clock_of(now: Moment, mono_s: float, at: datetime) -> datetime:
    if not 0.0 <= mono_s <= now.mono_s:  # nobody wrote it in this boot
        return at
    true = now.at - timedelta(seconds=now.mono_s - mono_s)
    return at if abs((true - at).total_seconds()) <= STEP_S else true


def _unwritable(event: Event) -> str | None:
    """A word of an event that no file can hold, because it is half a letter; None when all can."""
    for word in (event.cooker, *event.detail, *event.detail.values()):
        try:
            word.encode()
        except UnicodeEncodeError:
            return word
    return None


def _force(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
