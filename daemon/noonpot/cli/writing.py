"""Files that a person asked a command to write."""

from pathlib import Path

from noonpot.errors import CookError


def write(option: str, path: Path, content: str | bytes) -> None:
    """Write what an option asked for. Raises CookError when that cannot be done."""
    try:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise CookError(f"{option} {path}: {error.strerror}") from error
