"""The passphrase of the page and the links that were given away, in a folder of their own.

Nothing in there opens a door by itself: of the passphrase there is a slow hash, of a link the hash
of its secret, which nobody can guess.
"""

import hashlib
import hmac
import json
import os
import secrets
import threading
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from noonpot.errors import StoreError

FILE = "keys.json"
FOLDER_MODE = 0o700
FILE_MODE = 0o600
SHORTEST, LONGEST = 8, 200
MOST_LINKS = 20
# OWASP's password storage cheat sheet, cut to what a board with 512 MB bears: 32 MiB, three times.
COST, BLOCK, PARALLEL, MEMORY = 2**15, 8, 3, 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Link:
    """A read-only link: what it is called, when it was made (UTC), and the hash of its secret."""

    id: str
    label: str
    made: str
    digest: str


@dataclass(frozen=True, slots=True)
class _Keys:
    salt: str = ""
    slow: str = ""
    links: tuple[Link, ...] = ()


class Keyring:
    """Reads the file anew when another process has written it. Raises StoreError."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._keys = _Keys()
        self._stamp: tuple[int, int] | None = None
        self._turn = threading.Lock()

    @property
    def issue(self) -> str:
        """Changes with the passphrase, "" while there is none: sessions of an older one end."""
        return self._read().salt

    def set_passphrase(self, passphrase: str) -> None:
        """Choose the passphrase, in place of any before. Takes a second or so.

        Raises ValueError, with what it must be, for one that will not do.
        """
        if not SHORTEST <= len(passphrase) <= LONGEST or not passphrase.strip():
            raise ValueError(
                f"a passphrase has {SHORTEST} to {LONGEST} letters; some words will do"
            )
        salt = secrets.token_hex(16)
        with self._turn:
            self._write(replace(self._read(), salt=salt, slow=_slow(passphrase, salt)))

    def opens(self, passphrase: str) -> bool:
        """Whether this is the passphrase. Takes a second or so, right or wrong."""
        keys = self._read()
        found = _slow(passphrase, keys.salt or "none")
        return bool(keys.slow) and hmac.compare_digest(found, keys.slow)

    def links(self) -> Sequence[Link]:
        """All links that open the door."""
        return self._read().links

    def link_of(self, secret: str) -> Link | None:
        """The link with this secret."""
        digest = quick(secret)
        return next(
            (link for link in self.links() if hmac.compare_digest(link.digest, digest)), None
        )

    def give(self, label: str, made: str) -> tuple[Link, str]:
        """A new link and its secret, which is kept nowhere.

        Raises ValueError when there are too many.
        """
        secret = secrets.token_urlsafe(32)
        with self._turn:
            keys = self._read()
            if len(keys.links) >= MOST_LINKS:
                raise ValueError(f"there are {MOST_LINKS} links already; withdraw one first")
            link = Link(secrets.token_hex(8), label, made, quick(secret))
            self._write(replace(keys, links=(*keys.links, link)))
        return link, secret

    def withdraw(self, number: str) -> bool:
        """Make a link worthless; False when there is none of this id."""
        with self._turn:
            keys = self._read()
            kept = tuple(link for link in keys.links if link.id != number)
            if len(kept) == len(keys.links):
                return False
            self._write(replace(keys, links=kept))
            return True

    def _read(self) -> _Keys:
        file = self._folder / FILE
        try:
            found = file.stat()
            stamp = found.st_mtime_ns, found.st_ino
            if stamp != self._stamp:
                told = json.loads(file.read_text(encoding="utf-8"))
                links = tuple(Link(**link) for link in told["links"])
                self._keys = _Keys(str(told["salt"]), str(told["slow"]), links)
                self._stamp = stamp
        except FileNotFoundError:
            self._keys, self._stamp = _Keys(), None
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise StoreError(
                f"{file} cannot be read ({type(error).__name__}); delete it, and choose the "
                "passphrase anew with 'noonpot check --set-passphrase'"
            ) from error
        return self._keys

    def _write(self, keys: _Keys) -> None:
        aside = self._folder / f".{secrets.token_hex(8)}"
        try:
            self._folder.mkdir(FOLDER_MODE, parents=True, exist_ok=True)
            self._folder.chmod(FOLDER_MODE)
            opened = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE)
            with os.fdopen(opened, "w", encoding="utf-8") as file:
                json.dump(asdict(keys), file)
                file.flush()
                os.fsync(file.fileno())
            if os.geteuid() == 0:  # who keeps house with sudo leaves it to the daemon's user
                owner = self._folder.parent.stat()
                os.chown(self._folder, owner.st_uid, owner.st_gid)
                os.chown(aside, owner.st_uid, owner.st_gid)
            aside.rename(self._folder / FILE)
        except OSError as error:
            raise StoreError(f"{self._folder} cannot be written: {error.strerror}") from error


def quick(secret: str) -> str:
    """The hash of a secret that is too long to be guessed."""
    return hashlib.sha256(secret.encode(errors="surrogatepass")).hexdigest()


def _slow(passphrase: str, salt: str) -> str:
    return hashlib.scrypt(
        passphrase.encode(errors="surrogatepass"),
        salt=salt.encode(),
        n=COST,
        r=BLOCK,
        p=PARALLEL,
        maxmem=MEMORY,
    ).hex()
