"""The sections about other servers, and the secrets they need."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from noonpot.settings.files import existing, secret
from noonpot.settings.schema import Section, Text
from noonpot.settings.values import InfluxAccess, MqttAccess
from noonpot.settings.words import Wants

FILE = "name a file that only Noonpot may read, or a systemd credential"


class MqttSection(Section):
    """[mqtt]: the broker that carries the messages."""

    host: Annotated[
        Text, Wants("the name of the broker's computer, in quotes", '"localhost" for this one')
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


def mqtt_access(section: MqttSection, folder: Path, mistakes: list[str]) -> MqttAccess:
    """How to reach the broker; files that cannot be used are added to the mistakes."""
    password = section.password_file and secret(
        "mqtt.password_file", section.password_file, folder, mistakes
    )
    tls_ca = section.tls_ca and existing("mqtt.tls_ca", section.tls_ca, folder, mistakes)
    return MqttAccess(
        host=section.host,
        port=section.port,
        protocol=section.protocol,
        username=section.username,
        password=password or None,
        tls_ca=tls_ca or None,
    )


def influx_access(section: InfluxSection, folder: Path, mistakes: list[str]) -> InfluxAccess:
    """How to reach the server; a token that cannot be used is added to the mistakes."""
    token = secret("influx.token_file", section.token_file, folder, mistakes)
    return InfluxAccess(section.url, section.org, section.bucket, token)
