"""The sections about other servers, and the secrets they need."""

import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from noonpot.core.alert import Priority
from noonpot.settings.files import existing, secret
from noonpot.settings.schema import Section, Text
from noonpot.settings.values import InfluxAccess, MqttAccess, PushAccess, SignsOfLife
from noonpot.settings.words import Wants

SHORTEST_TOKEN = 16
FILE = "name a file that only Noonpot may read, or a systemd credential"
ADDRESSES = "write the address of each push service on a line of its own"
ONE_ADDRESS = 'write an address that begins with "https://" as its only line'


class MqttSection(Section):
    """[mqtt]: the broker that carries the messages."""

    host: Annotated[
        str,
        Field(max_length=253, pattern=r"^[^\x00-\x20\x7f/@]+$"),
        Wants("the name of the broker's computer, in quotes", '"localhost" for this one'),
    ]
    port: Annotated[
        int,
        Field(ge=1, le=65_535),
        Wants("a whole number, 1 to 65535", "1883 is usual, 8883 with tls_ca"),
    ] = 1883
    protocol: Annotated[
        Literal["5", "3.1.1"], Wants('"5" or "3.1.1", in quotes', "leave it out for 5")
    ] = "5"
    username: Annotated[Text | None, Wants("a name, in quotes", "ask who set up the broker")] = None
    password_file: Annotated[Text | None, Wants("a file name, in quotes", FILE)] = None
    tls_ca: Annotated[
        Text | None,
        Wants("a file name, in quotes", "name the certificate of who vouches for the broker"),
    ] = None
    command_token_file: Annotated[Text | None, Wants("a file name, in quotes", FILE)] = None


class InfluxSection(Section):
    """[influx]: the time-series server that gets a copy of all readings."""

    url: Annotated[
        str,
        Field(pattern=r"^https?://[^\s/@]+(/[^\s@]*)?$"),
        Wants(
            'an address such as "http://localhost:8086", without a password in it',
            "the token goes into token_file",
        ),
    ]
    org: Annotated[Text, Wants("the organisation on the server, in quotes", "ask who set it up")]
    bucket: Annotated[Text, Wants("the bucket on the server, in quotes", "ask who set it up")]
    token_file: Annotated[Text, Wants("a file name, in quotes", FILE)]


class PushSection(Section):
    """[push]: services that bring messages to phones."""

    urls_file: Annotated[Text, Wants("a file name, in quotes", FILE)]
    min_priority: Annotated[
        Literal["low", "medium", "high", "urgent"],
        Wants('"low", "medium", "high" or "urgent"', "choose the least that shall be pushed"),
    ] = "low"
    gather_s: Annotated[
        float, Field(ge=0, le=120), Wants("0 to 120 seconds to gather messages", "10 is usual")
    ] = 10.0
    spacing_min: Annotated[
        float,
        Field(ge=0, le=120),
        Wants("0 to 120 minutes between messages that may wait", "10 is usual"),
    ] = 10.0


class DeadmanSection(Section):
    """[deadman]: signs that it lives."""

    url_file: Annotated[Text | None, Wants("a file name, in quotes", FILE)] = None
    all_well_h: Annotated[
        float,
        Field(ge=0, le=24),
        Wants("0 to 24 hours of silence during a cook, 0 for never", "3 is usual"),
    ] = 3.0


def mqtt_access(section: MqttSection, folder: Path, mistakes: list[str]) -> MqttAccess:
    """How to reach the broker; files that cannot be used are added to the mistakes."""
    password = section.password_file and secret(
        "mqtt.password_file", section.password_file, folder, mistakes
    )
    tls_ca = section.tls_ca and existing("mqtt.tls_ca", section.tls_ca, folder, mistakes)
    token = section.command_token_file and secret(
        "mqtt.command_token_file", section.command_token_file, folder, mistakes
    )
    if token and len(token) < SHORTEST_TOKEN:
        mistakes.append(
            f"mqtt.command_token_file holds {len(token)} letters, but must hold at least "
            f"{SHORTEST_TOKEN} that nobody can guess; 'openssl rand -hex 16' makes some"
        )
    return MqttAccess(
        host=section.host,
        port=section.port,
        protocol=section.protocol,
        username=section.username,
        password=password or None,
        tls_ca=tls_ca or None,
        command_token=token or None,
    )


def influx_access(section: InfluxSection, folder: Path, mistakes: list[str]) -> InfluxAccess:
    """How to reach the server; a token that cannot be used is added to the mistakes."""
    token = secret("influx.token_file", section.token_file, folder, mistakes)
    return InfluxAccess(section.url, section.org, section.bucket, token)


def push_access(section: PushSection, folder: Path, mistakes: list[str]) -> PushAccess:
    """Where and how often to push; addresses that cannot be used are added to the mistakes."""
    text = secret("push.urls_file", section.urls_file, folder, mistakes, cure=ADDRESSES)
    lines = [line.strip() for line in text.splitlines()]
    addresses = tuple(line for line in lines if line and not line.startswith("#"))
    if text.strip() and not addresses:
        mistakes.append(f"push.urls_file names a file without an address; {ADDRESSES}")
    for number, address in enumerate(addresses, start=1):
        if "://" not in address:  # not shown: it is a secret all the same
            mistakes.append(
                f"push.urls_file: address number {number} has no '://' in it; {ADDRESSES}"
            )
    return PushAccess(
        addresses=addresses,
        least=Priority(section.min_priority),
        gather_s=section.gather_s,
        spacing_s=60 * section.spacing_min,
    )


def signs_of_life(
    section: DeadmanSection, folder: Path, mistakes: list[str], *, secrets: bool
) -> SignsOfLife:
    """How it shows that it lives; an address that cannot be used is added to the mistakes."""
    url = ""
    if section.url_file is not None and secrets:
        url = secret("deadman.url_file", section.url_file, folder, mistakes, cure=ONE_ADDRESS)
        if url and re.fullmatch(r"https?://[^\s/]+\S*", url.strip()) is None:
            mistakes.append(f"deadman.url_file names a file without an address; {ONE_ADDRESS}")
    return SignsOfLife(url=url.strip() or None, all_well_s=3600 * section.all_well_h)
