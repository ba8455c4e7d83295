"""Who was turned away from the page, and why, so that somebody who tries the door is noticed."""

import logging
from collections import Counter
from enum import StrEnum

log = logging.getLogger(__name__)

MOST_ADDRESSES = 1000


class Why(StrEnum):
    """Why somebody was turned away; the names of the counters."""

    LOGIN = "login"
    LINK = "link"
    NAME = "name"
    SITE = "site"
    PACE = "pace"


WORDS = {
    Why.LOGIN: "refused logins",
    Why.LINK: "links that are not valid",
    Why.NAME: "requests by a name that is not ours",
    Why.SITE: "changes that another site asked for",
    Why.PACE: "requests beyond the pace",
}


class Refusals:
    """Counts them since the page was started. Lives in one event loop."""

    def __init__(self) -> None:
        self._counts: Counter[Why] = Counter()
        self._addresses: dict[Why, Counter[str]] = {why: Counter() for why in Why}

    def count(self, why: Why, address: str) -> None:
        """Somebody at this address was turned away. The first, second, fourth and so on are logged,
        lest a flood fills the card.
        """
        self._counts[why] += 1
        known = self._addresses[why]
        if address in known or len(known) < MOST_ADDRESSES:
            known[address] += 1
        count = self._counts[why]
        if count & (count - 1) == 0:
            log.warning("%s", self._words(why))

    @property
    def counts(self) -> dict[str, int]:
        """How many of each kind, none left out."""
        return {why: self._counts[why] for why in Why}

    def told(self) -> list[dict[str, object]]:
        """Those that there were, for a person."""
        return [
            {"why": why, "count": self._counts[why], "words": self._words(why)}
            for why in Why
            if self._counts[why]
        ]

    def _words(self, why: Why) -> str:
        ((address, most),) = self._addresses[why].most_common(1)
        count = self._counts[why]
        return f"{WORDS[why]}: {count}, {'all' if most == count else most} from {address}"
