"""The 32 bits a MAX31855 sends, without touching the chip. Source: MAX31855 data sheet, table 2."""

from noonpot.core.readings import Defect, FaultKind

_RESERVED = 1 << 17 | 1 << 3
_FAULT = 1 << 16
_CAUSES = 0b111
_OPEN, _GROUND, _SUPPLY = 0b001, 0b010, 0b100


def thermocouple_c(word: int) -> float:
    """The temperature [°C] by the chip's straight line, bits 31-18, 0.25 °C each.

    >>> thermocouple_c(0x064C1900)
    100.75
    """
    return _signed(word >> 18, 14) / 4


def junction_c(word: int) -> float:
    """The temperature [°C] of the chip itself (the cold junction), bits 15-4, 0.0625 °C each.

    >>> junction_c(0x06181FB0)
    31.6875
    """
    return _signed(word >> 4 & 0xFFF, 12) / 16


def defect_of(word: int) -> Defect | None:
    """What is wrong with this word, or None.

    An all-zero word is a silent bus, though it would also be exactly 0 °C at a chip of exactly
    0 °C; the next word will tell. The fault bit is the sum of its three causes: a word in which
    it is not was shifted on the way.

    >>> defect_of(0x064C1900)
    >>> defect_of(0).kind
    <FaultKind.SPI_SILENT: 'spi-silent'>
    """
    kind = _fault_of(word)
    return None if kind is None else Defect(kind, f"frame 0x{word:08X}")


def _fault_of(word: int) -> FaultKind | None:
    causes = word & _CAUSES
    if word == 0:
        return FaultKind.SPI_SILENT
    if word == 0xFFFFFFFF:
        return FaultKind.SPI_STUCK_HIGH
    if word & _RESERVED or (causes and not word & _FAULT):
        return FaultKind.FRAME_ERROR
    if causes & _OPEN:
        return FaultKind.OPEN_CIRCUIT
    if causes & _GROUND:
        return FaultKind.SHORT_TO_GROUND
    if causes & _SUPPLY:
        return FaultKind.SHORT_TO_SUPPLY
    return FaultKind.CONVERTER_FAULT if word & _FAULT else None


def _signed(bits: int, width: int) -> int:
    return bits - (1 << width) if bits >> (width - 1) else bits
