"""Day tables of the sun kept in a folder of the person who calls a command.

The daemon keeps its tables in its data file, which nobody else may write. A command that finds no
table there would start the helper each time; what it computed once is kept here instead.
"""

import hashlib
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

MOST_KEPT = 200
"""About 2 MB; the days that were written first make room."""
ENDING = ".sun"


def own_folder(environment: Mapping[str, str]) -> Path | None:
    """Where this person's programs keep what can be made anew, by the XDG base directory
    specification; None for somebody without a home.
    """
    named = Path(environment.get("XDG_CACHE_HOME", ""))
    if named.is_absolute():
        return named / "noonpot"
    home = Path(environment.get("HOME", ""))
    return home / ".cache" / "noonpot" if home.is_absolute() else None


class Almanac:
    """A folder with a file for each day of sun. It is made when first written to.

    A file begins with the key it was kept under, and is moved into place when it is whole: what was
    half written or put there by others is no table. Where nothing can be read or written, nothing
    is kept, and every table is computed.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder

    def sun_day(self, key: str) -> bytes | None:
        """What was kept under this key, None when nothing was."""
        if self._folder is None:
            return None
        try:
            content = (self._folder / _name(key)).read_bytes()
        except OSError:
            return None
        head = _head(key)
        return content.removeprefix(head) if content.startswith(head) else None

    def keep_sun_day(self, key: str, body: bytes) -> None:
        """Keep it, and drop the oldest of many."""
        if self._folder is None:
            return
        with suppress(OSError):
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._write(self._folder / _name(key), _head(key) + body)
            self._thin_out(self._folder)

    def _write(self, path: Path, content: bytes) -> None:
        number, draft = tempfile.mkstemp(suffix=ENDING, dir=path.parent)
        try:
            with os.fdopen(number, "wb") as stream:
                stream.write(content)
            Path(draft).replace(path)
        except OSError:
            Path(draft).unlink(missing_ok=True)
            raise

    def _thin_out(self, folder: Path) -> None:
        files = sorted(folder.glob(f"*{ENDING}"), key=lambda file: file.stat().st_mtime)
        for file in files[:-MOST_KEPT]:
            file.unlink(missing_ok=True)


def _name(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()[:32] + ENDING


def _head(key: str) -> bytes:
    return f"noonpot sun table {key}\n".encode()
