"""The passphrase of the page and the links that were given away, in a folder of their own.

Nothing in there opens a door by itself: of the passphrase there is a slow hash, of a link the hash
of its secret, which nobody can guess.
"""

import fcntl
import hashlib
import hmac
import json
import os
import secrets
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from noonpot.errors import StoreError

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
    """The keys in ``file``, which has its folder for itself. Reads it anew when another process has
    written it. Raises StoreError.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._seen: tuple[tuple[int, int] | None, _Keys] = None, _Keys()

    @property
    def issue(self) -> str:
        """Changes with the passphrase, "" while there is none: sessions of an older one end."""
        return self._read().salt

    def set_passphrase(self, passphrase: str) -> None:
        """Choose the passphrase, in place of any before, and withdraw all links: who chooses a new
        one wants nobody in there. Takes a second or so.

        Raises ValueError, with what it must be, for one that will not do.
        """
        if not SHORTEST <= len(passphrase) <= LONGEST or not passphrase.strip():
            raise ValueError(
                f"a passphrase has {SHORTEST} to {LONGEST} letters; some words will do"
            )
        salt = secrets.token_hex(16)
        slow = _slow(passphrase, salt)
        with self._held() as folder:
            self._write(folder, _Keys(salt, slow))

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
        with self._held() as folder:
            keys = self._read(folder)
            if len(keys.links) >= MOST_LINKS:
                raise ValueError(f"there are {MOST_LINKS} links already; withdraw one first")
            link = Link(secrets.token_hex(8), label, made, quick(secret))
            self._write(folder, replace(keys, links=(*keys.links, link)))
        return link, secret

    def withdraw(self, number: str) -> bool:
        """Make a link worthless; False when there is none of this id."""
        with self._held() as folder:
            keys = self._read(folder)
            kept = tuple(link for link in keys.links if link.id != number)
            if len(kept) == len(keys.links):
                return False
            self._write(folder, replace(keys, links=kept))
            return True

    def _read(self, folder: int | None = None) -> _Keys:
        """The keys as they are; what is remembered of them will not do in a ``folder`` held."""
        path = self._file if folder is None else self._file.name
        seen = self._seen
        try:
            with os.fdopen(
                os.open(path, os.O_RDONLY | os.O_NOFOLLOW, dir_fd=folder), encoding="utf-8"
            ) as file:
                found = os.fstat(file.fileno())
                stamp = found.st_mtime_ns, found.st_ino
                if folder is not None or stamp != seen[0]:
                    told = json.loads(file.read())
                    links = tuple(Link(**link) for link in told["links"])
                    seen = stamp, _Keys(str(told["salt"]), str(told["slow"]), links)
        except FileNotFoundError:
            seen = None, _Keys()
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise StoreError(
                f"{self._file} cannot be read ({type(error).__name__}); delete it, and choose the "
                "passphrase anew with 'noonpot check --set-passphrase'"
            ) from error
        self._seen = seen
        return seen[1]

    @contextmanager
    def _held(self) -> Iterator[int]:
        """The folder as a descriptor, while no other process or thread changes the keys.

        All goes by the descriptor: the folder stands where others may write, and root sets the
        passphrase, so a name may lead elsewhere at any moment.
        """
        place = self._file.parent
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            with suppress(FileExistsError):
                place.mkdir(FOLDER_MODE)
            folder = os.open(place, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
        except NotADirectoryError as error:
            raise StoreError(
                f"{place} is a link or a file, but must be a folder; look where it came from, and "
                "remove it"
            ) from error
        except OSError as error:
            raise StoreError(f"{place} cannot be written: {error.strerror}") from error
        try:
            fcntl.flock(folder, fcntl.LOCK_EX)  # ends with the descriptor
            yield folder
        finally:
            os.close(folder)

    def _write(self, folder: int, keys: _Keys) -> None:
        aside = f".{secrets.token_hex(8)}"
        try:
            os.fchmod(folder, FOLDER_MODE)
            opened = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE, dir_fd=folder)
            with os.fdopen(opened, "w", encoding="utf-8") as file:
                json.dump(asdict(keys), file)
                file.flush()
                if os.geteuid() == 0:  # who keeps house with sudo leaves it to the daemon's user
                    owner = self._file.parent.parent.stat()
                    os.fchown(folder, owner.st_uid, owner.st_gid)
                    os.fchown(opened, owner.st_uid, owner.st_gid)
                os.fsync(opened)
            os.replace(aside, self._file.name, src_dir_fd=folder, dst_dir_fd=folder)
            os.fsync(folder)  # what was withdrawn does not come back with the power
        except OSError as error:
            raise StoreError(f"{self._file} cannot be written: {error.strerror}") from error


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
