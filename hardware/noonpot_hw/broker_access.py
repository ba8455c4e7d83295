"""How a message broker is reached, from the options of a bus."""

import os
import ssl
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from noonpot.errors import BusError

ACCESS_OPTIONS = ("host", "port", "username", "password_file", "tls_ca")


@dataclass(frozen=True, slots=True)
class BrokerAccess:
    """A broker, and who we are to it. With ``tls`` the connection is encrypted."""

    host: str
    port: int
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: ssl.SSLContext | None = None

    @property
    def name(self) -> str:
        """The broker in words."""
        return f"{self.host} port {self.port}"


def access_of(options: Mapping[str, object]) -> BrokerAccess:
    """The access that the options among ``ACCESS_OPTIONS`` describe.

    ``password_file`` is a full path, or the bare name of a systemd credential.
    Raises BusError for a wrong option.
    """
    host, port = options.get("host", "localhost"), options.get("port", 1883)
    if not isinstance(host, str) or not host:
        raise BusError(f"topic: host is {host!r}; give the name of the broker's computer")
    if isinstance(port, bool) or not isinstance(port, int) or not 0 < port < 65536:
        raise BusError(f"topic: port is {port!r}; give a whole number, 1883 is usual")
    username = _text(options, "username", "a name in quotes")
    password_file = _text(options, "password_file", "a full path, or a credential's name")
    if (username is None) != (password_file is None):
        raise BusError("topic: give both username and password_file, or neither")
    tls_ca = _text(options, "tls_ca", "the full path of a certificate")
    return BrokerAccess(
        host,
        port,
        username,
        None if password_file is None else _password(password_file),
        None if tls_ca is None else _tls(tls_ca),
    )


def _text(options: Mapping[str, object], key: str, wanted: str) -> str | None:
    value = options.get(key)
    if value is not None and (not isinstance(value, str) or not value):
        raise BusError(f"topic: {key} is {value!r}; give {wanted}")
    return value


def _password(name: str) -> str:
    """What the file holds, without the line end."""
    file, told = _place(name), f"topic: password_file is {name!r}, but"
    try:
        open_to_all = file.stat().st_mode & stat.S_IROTH
        password = file.read_text(encoding="utf-8").rstrip("\r\n")
    except OSError as error:
        raise BusError(
            f"{told} it cannot be read: {error.strerror}; check path and rights"
        ) from None
    except ValueError:
        raise BusError(f"{told} it holds no text; write the password into it") from None
    if open_to_all:
        raise BusError(f"{told} everybody may read that file; run chmod 600 on it")
    return password


def _place(name: str) -> Path:
    """A full path as it is. A bare name is a credential: systemd passes on a single one under its
    own name, and those of a folder with the name of the folder's entry before it.
    """
    passed = os.environ.get("CREDENTIALS_DIRECTORY")
    if name.startswith("/"):
        return Path(name)
    if "/" in name or passed is None:
        raise BusError(f"topic: password_file is {name!r}; give a full path")
    places = (Path(passed, name), Path(passed, f"secret_{name}"))
    return next((place for place in places if place.exists()), places[0])


def _tls(path: str) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=path)
    except OSError as error:
        raise BusError(
            f"topic: tls_ca is {path!r}, but it holds no certificate that can be read: {error}"
        ) from None
