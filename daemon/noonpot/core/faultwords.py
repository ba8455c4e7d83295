"""What each fault means to a person, and the cure."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from noonpot.core.readings import FaultKind

LONGEST = 90


@dataclass(frozen=True, slots=True)
class FaultWords:
    """Two halves of a sentence that begins with the probe's name: "probe loaf: noisy cable, …"."""

    meaning: str
    cure: str

    @property
    def phrase(self) -> str:
        """Both halves, at most 90 characters.

        >>> WORDS[FaultKind.CHECKSUM].phrase
        'noisy cable, no trustworthy reading; check plug and pull-up'
        """
        return f"{self.meaning}; {self.cure}"


WORDS: Mapping[FaultKind, FaultWords] = MappingProxyType(
    {
        FaultKind.NOT_ANSWERING: FaultWords(
            "not answering, value unknown", "check plug, cable and address"
        ),
        FaultKind.CHECKSUM: FaultWords(
            "noisy cable, no trustworthy reading", "check plug and pull-up"
        ),
        FaultKind.POWER_ON_VALUE: FaultWords(
            "restarted itself, shows its start value", "check its supply wire"
        ),
        FaultKind.LOW_POWER: FaultWords(
            "too little power to measure", "use three wires, check the 3.3 V"
        ),
        FaultKind.BUS_SHORTED: FaultWords(
            "data wire touches ground", "look for a short or a probe put in backwards"
        ),
        FaultKind.GARBLED: FaultWords(
            "reading cut off or unreadable", "wait; if it stays, unplug it for a moment"
        ),
        FaultKind.STALE: FaultWords(
            "repeats an old value without measuring", "unplug it for a moment, then replace it"
        ),
        FaultKind.OPEN_CIRCUIT: FaultWords(
            "thermocouple not connected", "tighten both screws, look for a broken wire"
        ),
        FaultKind.SHORT_TO_GROUND: FaultWords(
            "thermocouple touches metal or ground", "use a probe with insulated tip"
        ),
        FaultKind.SHORT_TO_SUPPLY: FaultWords(
            "thermocouple touches the supply", "look for bare wire at the board"
        ),
        FaultKind.CONVERTER_FAULT: FaultWords(
            "thermocouple board reports a fault, no cause", "check its wiring, then replace it"
        ),
        FaultKind.SPI_SILENT: FaultWords(
            "thermocouple board silent", "check its 3.3 V, data (MISO) and select wires"
        ),
        FaultKind.SPI_STUCK_HIGH: FaultWords(
            "thermocouple board missing or its data line stuck", "check ground and select"
        ),
        FaultKind.FRAME_ERROR: FaultWords(
            "board sends scrambled bits", "shorten the wires between Pi and board"
        ),
        FaultKind.REVERSED: FaultWords("wired backwards", "swap its two wires"),
        FaultKind.BOARD_TOO_HOT: FaultWords(
            "thermocouple board above 85 °C, reading unsure", "move the board into shade"
        ),
        FaultKind.SHORTED: FaultWords(
            "its two wires touch, shows only its board", "part them, or renew the thermocouple"
        ),
        FaultKind.OUT_OF_RANGE: FaultWords(
            "shows an impossible value, ignored", "check plug, wires and probe"
        ),
        FaultKind.JUMP: FaultWords(
            "leapt faster than food can, ignored", "check its plug; moved? wait 10 s"
        ),
        FaultKind.STUCK: FaultWords(
            "does not move though it must, not believed", "unplug it for a moment, then replace it"
        ),
        FaultKind.BUS_BUSY: FaultWords(
            "port in use by another program", "stop that program or free the pin"
        ),
        FaultKind.BUS_HANGS: FaultWords(
            "reading it hangs, trying again", "check its cable; if it stays, restart the Pi"
        ),
        FaultKind.DRIVER_ERROR: FaultWords(
            "cannot be read, see the log for the reason", "run noonpot check"
        ),
    }
)
