"""What the kernel's ``w1_slave`` text of a DS18B20 means, without touching the sensor."""

import re

from noonpot.core.readings import Defect, FaultKind

LENGTH = 9
_NINE_BYTES = re.compile(r"((?:[0-9a-f]{2} ){9})", re.IGNORECASE)
_FULL_RESOLUTION_BITS = 12


def crc8(data: bytes) -> int:
    """The checksum of 1-Wire devices: x⁸ + x⁵ + x⁴ + 1, reflected, starting at 0.

    Over a whole scratchpad, its own checksum included, it is 0.
    Source: Maxim application note 27.

    >>> hex(crc8(bytes.fromhex("021cb801000000")))
    '0xa2'
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc


def resolution_bits(scratchpad: bytes) -> int:
    """How finely the sensor was told to measure, 9 to 12 bits. Source: DS18B20 data sheet, table 2.

    >>> resolution_bits(bytes.fromhex("b8014b467fff08108a"))
    12
    """
    return 9 + (scratchpad[4] >> 5 & 0b11)


def sound(text: str) -> bytes | Defect:
    """The nine bytes of a sound read, or what is wrong with the text.

    The first line holds the bytes now read with the kernel's verdict, the second the bytes it
    keeps, which after a failed read are old ones. The kernel's verdict is not taken on trust.
    Source: Documentation/w1/slaves/w1_therm.rst of the Linux kernel.

    >>> sound("").kind
    <FaultKind.NOT_ANSWERING: 'not-answering'>
    """
    lines = text.splitlines()
    if not lines:
        return Defect(FaultKind.NOT_ANSWERING, "the kernel returned an empty text")
    now = _bytes_of(lines[0])
    if now is None:
        return Defect(FaultKind.GARBLED, f"no nine bytes in {lines[0][:40]!r}")
    if now == bytes(LENGTH):
        return Defect(FaultKind.BUS_SHORTED, "all bits read 0")
    if now == b"\xff" * LENGTH:
        return Defect(FaultKind.NOT_ANSWERING, "all bits read 1: nothing pulls the line down")
    if not lines[0].rstrip().endswith("YES") or crc8(now) != 0:
        return Defect(FaultKind.CHECKSUM, f"bytes {now.hex(' ')}")
    if len(lines) < 2 or _bytes_of(lines[1]) != now:
        return Defect(FaultKind.GARBLED, "the second line does not repeat the first")
    return now


def fresh_after_s(scratchpad: bytes, full_resolution_s: float) -> float:
    """The shortest time [s] in which these bytes can have been measured anew, given the time
    at 12 bits: each bit less halves it. Source: DS18B20 data sheet, table 2.

    >>> fresh_after_s(bytes.fromhex("b8014b461fff0810ee"), 0.1)
    0.0125
    """
    return full_resolution_s / (1 << _FULL_RESOLUTION_BITS - resolution_bits(scratchpad))


def _bytes_of(line: str) -> bytes | None:
    match = _NINE_BYTES.match(line)
    return bytes.fromhex(match[1]) if match else None
