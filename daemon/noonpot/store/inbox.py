"""How a person's word reaches the daemon: a file for each event, in a folder.

The data file has one writer, so a command does not write there: it hands a letter in. The letter is
complete or not there at all (written aside, forced to disk, then renamed), and it stays until its
event is in the store. Its name goes with the event as ``uid``: a letter that is there again after a
crash is known by it, and is not taken twice.
"""

import json
import os
from collections.abc import Callable, Sequence
from itertools import count
from pathlib import Path
from uuid import uuid4

from noonpot.core.cook import Event, EventKind
from noonpot.core.detail import detail_text
from noonpot.core.moment import utc
from noonpot.core.names import meant
from noonpot.errors import StoreError
from noonpot.ports import Letter
from noonpot.store.cooks import UID

LONGEST_BYTES = 16_384
FOLDER_MODE = 0o2770  # members of the daemon's group may hand in; the files become the group's
FILE_MODE = 0o640
REFUSED = "refused"
ORDER = count()  # two events of one instant stay in the order in which they were handed in
SUFFIX = ".json"


def hand_in(folder: Path, event: Event, name: str = "") -> str:
    """Put an event into the inbox; returns the name of its letter. It is safe on disk then.

    Letters are taken in the order of their names, and each name once: who gives one, so that doing
    it again has no effect, begins it with the time as is done here.
    Raises StoreError when the folder cannot be written.
    """
    name = name or f"{event.at.timestamp():017.6f}-{next(ORDER):06d}-{uuid4().hex}"
    body = {
        "cooker": event.cooker,
        "at": event.at.isoformat(),
        "kind": event.kind,
        "detail": dict(event.detail),
    }
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
    """The daemon's side of the folder; ``known`` tells whether an event of this uid is stored."""

    def __init__(self, folder: Path, known: Callable[[str], bool]) -> None:
        """Raises StoreError when the folder cannot be made."""
        self._folder = folder
        self._known = known
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
            if self._known(name):
                path.unlink()
                continue
            try:
                letters.append(Letter(name, _read(path, name)))
                self._taken.add(name)
            except (OSError, ValueError, RecursionError) as error:
                self._put_aside(name, str(error))
        return letters

    def done(self, letter: Letter) -> None:
        """The event is in the store: put the letter away."""
        self._path(letter.name).unlink(missing_ok=True)
        self._taken.discard(letter.name)

    def refuse(self, letter: Letter, reason: str) -> None:
        """The event does not fit: keep the letter aside, with the reason for its writer."""
        self._put_aside(letter.name, reason)
        self._taken.discard(letter.name)

    def _path(self, name: str) -> Path:
        return self._folder / f"{name}{SUFFIX}"

    def _put_aside(self, name: str, reason: str) -> None:
        aside = self._folder / REFUSED
        (aside / f"{name}.txt").write_text(f"{reason}\n")
        self._path(name).rename(aside / f"{name}{SUFFIX}")


def _read(path: Path, name: str) -> Event:
    if not path.is_file() or path.is_symlink():
        raise ValueError("this is no file; hand events in with 'noonpot cook'")
    with path.open("rb") as file:
        text = file.read(LONGEST_BYTES + 1)
    if len(text) > LONGEST_BYTES:
        raise ValueError(f"the letter is longer than {LONGEST_BYTES} bytes; say it in fewer words")
    body = json.loads(text)
    if not isinstance(body, dict) or set(body) != {"cooker", "at", "kind", "detail"}:
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
    return Event(body["cooker"], utc(body["at"]), kind, {**detail, UID: name})


def _force(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
