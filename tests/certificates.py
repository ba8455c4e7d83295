"""Certificates for tests: an authority of our own, and a server it vouches for."""

import subprocess
from dataclasses import dataclass
from pathlib import Path

from broker import program


@dataclass(frozen=True)
class Certificates:
    """Files of one authority and of the server at 127.0.0.1 that it signed for."""

    ca: Path
    server: Path
    server_key: Path


KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1")


def make_certificates(folder: Path) -> Certificates:
    """Let openssl make them; valid for two days."""
    folder.mkdir(parents=True)
    made = Certificates(folder / "ca.crt", folder / "server.crt", folder / "server.key")
    new = ("req", "-x509", "-nodes", "-days", "2", *KEY)
    ca_key = folder / "ca.key"
    usage = ("-addext", "keyUsage=critical,keyCertSign")
    _openssl(*new, "-subj", "/CN=test authority", *usage, "-keyout", ca_key, "-out", made.ca)
    name = ("-subj", "/CN=broker", "-addext", "subjectAltName=IP:127.0.0.1")
    signed = ("-CA", made.ca, "-CAkey", ca_key, "-addext", "basicConstraints=critical,CA:FALSE")
    _openssl(*new, *name, *signed, "-keyout", made.server_key, "-out", made.server)
    return made


def _openssl(*arguments: str | Path) -> None:
    subprocess.run([program("openssl"), *arguments], check=True, capture_output=True)
