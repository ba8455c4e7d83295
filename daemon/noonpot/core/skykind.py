"""The sky that a plan reckons with: of one kind all day, as it comes, or the days of a file."""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from noonpot.core import sky
from noonpot.core.insight import PROCESS, TOP_INDEX, TOP_SD
from noonpot.core.names import meant
from noonpot.errors import CookError

Floats = NDArray[np.float64]

LEVELS = MappingProxyType({"clear": 1.0, "thin": 0.8, "broken": 0.6, "overcast": 0.25})
"""Light of a day of this kind as a share of a clear day's. Kasten and Czeplak (1980, from memory)
measured 0.25 under a sky full of cloud, 0.6 where it was thin cirrus alone, and 0.5 to 0.7 with six
to seven eighths of cloud; "thin" is between a veil and none (our choice)."""
TYPICAL = "typical"
CLEAR = 4.5
"""Clearness of a day without clouds: so far up the S-curve that it stays calm."""
WORD_SD = 0.5
"""How far off a word or a weather forecast about the sky is, in units of clearness (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class SkyKind:
    """``share`` is the light of the day as a share of a clear day's [-]; ``days`` are clear-sky
    indices of whole days, shape (days, steps), each as likely as the other. With neither, the sky
    is drawn as skies come, where the sky process was set. ``words`` tell a reader what is meant.
    """

    words: str
    share: float | None = None
    days: Floats | None = None

    def draw(self, steps_s: Floats, n: int, rng: np.random.Generator) -> Floats:
        """Clear-sky indices of n imagined days, shape (n, len(steps_s)).

        A kind of sky sets the level of the day and leaves hours and minutes to chance. The same
        random numbers make a lighter day lighter throughout, when only the share is another.
        """
        top = TOP_INDEX + TOP_SD * rng.standard_normal(n)
        if self.share is None and self.days is None:
            return sky.futures(sky.start(top, PROCESS), steps_s, rng, PROCESS)
        around = sky.SkyProcess(times_s=PROCESS.times_s, sds=(WORD_SD, *PROCESS.sds[1:]))
        wander = sky.wander(sky.start(top, around), steps_s, rng, around)
        if self.days is None:
            return sky.squash(_clearness(np.array(self.share)) + wander, top[:, None])
        day = rng.permutation(np.arange(n) % len(self.days))
        return sky.squash(_clearness(self.days[day] / TOP_INDEX) + wander, top[:, None])


def sky_named(text: str) -> SkyKind:
    """The sky that a person names: a word, or percent of a clear day's light.

    Raises CookError for anything else.

    >>> sky_named("70 %").share
    0.7
    """
    word = text.strip().lower()
    if word == TYPICAL:
        return SkyKind(
            "as it comes, with this date's sun and haze, and clear, broken and grey days mixed as "
            "in the records behind the sky model (Payerne in June, Tucson, Alamosa). It does not "
            "know your climate: say more with --sky or --weather"
        )
    if word in LEVELS:
        cloud = "" if word in ("clear", "overcast") else " cloud"
        return SkyKind(f"{word}{cloud}, {LEVELS[word]:.0%} of a clear day's light", LEVELS[word])
    try:
        percent = float(word.removesuffix("%"))
    except ValueError:
        raise CookError(
            f"--sky is {text!r}, but must be a kind of sky, or percent of a clear day's light such "
            f"as 70%; {meant(word, [*LEVELS, TYPICAL])}"
        ) from None
    if not 0 < percent <= 100:
        raise CookError(
            f"--sky is {text!r}, but must be above 0 and at most 100% of a clear day's light"
        )
    return SkyKind(f"{percent:g}% of a clear day's light", percent / 100)


def _clearness(share: Floats) -> Floats:
    """The unbounded clearness around which a day of this share of clear light wanders."""
    index = share * TOP_INDEX
    part = (index - sky.OVERCAST) / (TOP_INDEX - sky.OVERCAST)
    part = np.clip((part + sky.FLAT) / (1 + 2 * sky.FLAT), sky.EDGE, 1 - sky.EDGE)
    return np.where(share >= 1, CLEAR, np.log(part / (1 - part)))
