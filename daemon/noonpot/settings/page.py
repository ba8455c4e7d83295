"""The section [page]: the page that shows the cookers on a phone or at the desk."""

import ipaddress
from typing import Annotated

from pydantic import AfterValidator, Field

from noonpot.settings.schema import Section
from noonpot.settings.values import PageAccess
from noonpot.settings.words import Wants


def _address(text: str) -> str:
    return str(ipaddress.ip_address(text))


Host = Annotated[str, Field(pattern=r"^[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?$")]


class PageSection(Section):
    """[page]: where the page is served, and by what names."""

    enabled: Annotated[bool, Wants("true or false", "false means no page at all")] = True
    bind: Annotated[
        str,
        AfterValidator(_address),
        Wants(
            'an address of this computer, in quotes, such as "127.0.0.1"',
            '"0.0.0.0" lets the whole home network in, with a passphrase',
        ),
    ] = "127.0.0.1"
    port: Annotated[
        int,
        Field(ge=1, le=65_535),
        Wants("a whole number, 1 to 65535", "8080 is usual; below 1024 takes special rights"),
    ] = 8080
    names: Annotated[
        tuple[Host, ...],
        Field(max_length=20, strict=False),
        Wants(
            'a list of host names, such as ["garden.home.arpa"]',
            "write those by which this computer is called, without port",
        ),
    ] = ()


def page_access(section: PageSection) -> PageAccess:
    """The section as values."""
    names = tuple(name.lower() for name in section.names)
    return PageAccess(section.enabled, section.bind, section.port, names)
