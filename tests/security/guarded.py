"""A broker that keeps to the rights that come with Noonpot."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from paho.mqtt import client as mqtt

from broker import Broker, Phone, program

RIGHTS = Path(__file__).parents[2] / "config" / "mosquitto-acl.example"
USERS = ("garden", "shed", "phone", "bridge")


def password(user: str) -> str:
    """What lets a user in, marked so that it is found wherever it leaks."""
    return f"geheim-broker-{user}"


@contextmanager
def guarded(folder: Path, port: int | None = None) -> Iterator[Broker]:
    """The broker as the example says to set it up, on loopback."""
    folder.mkdir(parents=True, exist_ok=True)
    rights, logins = folder / "rights", folder / "logins"
    rights.write_bytes(RIGHTS.read_bytes())
    logins.write_text("".join(f"{user}:{password(user)}\n" for user in USERS))
    subprocess.run([program("mosquitto_passwd"), "-U", logins], check=True)
    rights.chmod(0o600)
    broker = Broker(
        folder / "broker",
        "allow_anonymous false",
        f"password_file {logins}",
        f"acl_file {rights}",
        "max_packet_size 65536",
    )
    broker.port = port or broker.port
    with broker:
        yield broker


def phone(broker: Broker, user: str, *topics: str) -> Phone:
    """A client of this user that listens to these topics, and by default to all."""

    def prepare(client: mqtt.Client) -> None:
        client.username_pw_set(user, password(user))

    return Phone(broker.port, *(topics or ("#",)), name=f"listening-{user}", prepare=prepare)
