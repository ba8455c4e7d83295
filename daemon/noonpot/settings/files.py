"""The files of the configuration: itself, the secrets it names, and the lists that come with us."""

import contextlib
import os
import re
import stat
import sys
import tomllib
from pathlib import Path

from noonpot.errors import ConfigError
from noonpot.settings.words import shown

LONGEST = 300_000  # letters; a garden of a hundred probes takes a tenth of that
# The TOML reader takes seconds for a key of ten thousands of parts, and Python writes no number of
# more than 4300 digits, which are 3500 in base 16.
LONGEST_LINE = 3500
LONGEST_SECRET = 65_536
CHECKOUT = Path(__file__).parents[3] / "config"
INSTALLED = Path(sys.prefix) / "share/noonpot/config"


def supplied(name: str) -> Path:
    """A file of the folder config/ of the checkout, or as it was installed."""
    return next((f / name for f in (CHECKOUT, INSTALLED) if (f / name).exists()), INSTALLED / name)


def parse(path: Path) -> dict[str, object]:
    """The file as plain tables.

    Raises ConfigError when it cannot be read or is not TOML; then the sentence gives the line.
    """
    try:
        with path.open(encoding="utf-8-sig") as file:
            text = file.read(LONGEST + 1)
        if wrong := _too_long(text):
            raise ConfigError(str(path), [wrong])
        return tomllib.loads(text)
    except OSError as error:
        raise ConfigError(str(path), [f"{_hindrance(error)}; 'noonpot init' writes one"]) from error
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(str(path), [_syntax(str(error))]) from error
    except UnicodeDecodeError as error:
        raise ConfigError(str(path), ["it is no text in UTF-8; save it as such"]) from error
    except RecursionError as error:
        deep = "brackets stand in brackets, too many to be read; close them sooner"
        raise ConfigError(str(path), [deep]) from error
    except ConfigError:
        raise
    except ValueError as error:  # Python reads no number of more than 4300 digits
        raise ConfigError(
            str(path), ["a number in it has thousands of digits; write it shorter"]
        ) from error


def _too_long(text: str) -> str | None:
    if len(text) > LONGEST:
        return f"it is longer than {LONGEST} letters; give the right file"
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            return f"line {number} is longer than {LONGEST_LINE} letters; break or shorten it"
    return None


def _syntax(reason: str) -> str:
    """The sentence for what the TOML reader says."""
    spot = re.search(r"line \d+, column \d+", reason)
    if spot is None:
        return "the file ends inside a text, list or line; close its quotes or brackets"
    where = spot.group()
    if re.search("Cannot (overwrite|declare|mutate)", reason):
        return f"{where}: this key or section was there before; keep one of the two"
    return (
        f'{where} is not understood; write key = value with texts in "quotes", lists in '
        "[brackets], and each section name in brackets on a line of its own"
    )


def _hindrance(error: OSError) -> str:
    match error:
        case FileNotFoundError() | NotADirectoryError():
            return "there is no such file"
        case IsADirectoryError():
            return "it is a folder"
        case PermissionError():
            return "this user may not read it"
        case _:
            return f"it cannot be read ({error.strerror})"


def secret(
    key: str,
    name: str,
    folder: Path,
    mistakes: list[str],
    cure: str = "write the secret into that file as its only line",
) -> str:
    """The secret that a file holds, without the line end; empty when it cannot be used, and why is
    added to the mistakes.
    """
    told = f"{key} is {shown(name)}, but"
    try:
        file = _place(name, folder)
        everybody_reads = file.stat().st_mode & stat.S_IROTH
    except OSError:  # not shown: it may be the secret itself
        mistakes.append(f"{key} names no file that is there; give the name of one, and {cure}")
        return ""
    try:
        with file.open(encoding="utf-8") as opened:
            text = opened.read(LONGEST_SECRET).rstrip("\r\n")
    except OSError as error:
        mistakes.append(f"{told} {_hindrance(error)}; {cure}")
        return ""
    except ValueError:
        mistakes.append(f"{told} it holds no text; {cure}")
        return ""
    if everybody_reads:
        mistakes.append(f"{told} everybody may read that file; run chmod 600 on it")
    elif not text.strip():
        mistakes.append(f"{told} that file is empty; {cure}")
    return text


def _place(name: str, folder: Path) -> Path:
    """Where a secret is. A bare name may also be a credential: systemd passes on a single one under
    its own name, and those of a folder with the name of the folder's entry before it.
    """
    if "/" in name:
        return folder / name
    places = [folder / name, folder / "credentials" / name]
    if passed := os.environ.get("CREDENTIALS_DIRECTORY"):
        places = [Path(passed) / name, Path(passed) / f"secret_{name}", *places]
    for place in places:
        with contextlib.suppress(FileNotFoundError):
            place.stat()
            return place
    return places[-1]


def existing(key: str, name: str, folder: Path, mistakes: list[str]) -> Path:
    """The path of a file that must be there and be readable; if not, a mistake is added."""
    file = folder / name
    try:
        file.open("rb").close()
    except (OSError, ValueError) as error:
        why = _hindrance(error) if isinstance(error, OSError) else "that is no file name"
        mistakes.append(f"{key} is {shown(name)}, but {why}; give the path of a file")
    return file
