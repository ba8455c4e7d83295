"""Words that every report shares: spans of time, dates, and what it can and cannot tell."""

from collections.abc import Iterator
from datetime import datetime

from noonpot.core.wording import Wording

CAUTIONS = (
    "Pot, glass and mirrors burn. Wear gloves, and open the lid away from your face.",
    "Never look into the mirrors, at the hot spot or into the sun. Stand behind the cooker.",
    "Hot glass breaks when cold water touches it. Keep children and animals away.",
    "Food that can make people ill: check it in its coldest spot with a second thermometer.",
    "Food that stood lukewarm for hours is not mended by heat.",
    "The rules of your country come first. Never rely on Noonpot alone.",
)


def span(seconds: float) -> str:
    """How long something took.

    >>> span(4_320), span(600), span(20)
    ('1 h 12 min', '10 min', 'under a minute')
    """
    minutes = round(seconds / 60)
    if minutes < 1:
        return "under a minute" if seconds > 0 else "no time"
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02} min" if minutes else f"{hours} h"


def day(at: datetime, wording: Wording) -> str:
    """The date by the household's clock.

    >>> from noonpot.core.moment import utc
    >>> day(utc("2026-06-03T07:00:00Z"), Wording())
    'Wednesday 3 June 2026'
    """
    local = at.astimezone(wording.timezone)
    return f"{local:%A} {local.day} {local:%B %Y}"


def clock(at: datetime, begin: datetime, wording: Wording) -> str:
    """The time of day; with the day of the week when it is not that of the begin."""
    local = at.astimezone(wording.timezone)
    same = local.date() == begin.astimezone(wording.timezone).date()
    return f"{local:%H:%M}" if same else f"{local:%a %H:%M}"


def between(low: float, mean: float, high: float, unit: str) -> str:
    """A mean and its bounds.

    >>> between(411.2, 640.0, 803.7, " W/m²")
    '640 W/m² on average, 411 to 804'
    """
    return f"{mean:.0f}{unit} on average, {low:.0f} to {high:.0f}"


def limits(wording: Wording) -> Iterator[str]:
    """What the method cannot do."""
    error = "1 to 4 °F" if wording.units == "F" else "0.5 to 2 °C"
    yield (
        f"A probe measures one point, and is usually {error} off. The coldest spot of the food "
        "may be elsewhere."
    )
    yield "Time in which no probe could be believed counts as danger, and never as heat."
    yield (
        "The forecasts of one cook err together: how many of them had it right is no test of the "
        "method."
    )
    yield (
        "The clear sky is computed, with the usual haze of the month. Where no sensor measured "
        "sunlight, the sky is not known."
    )
    yield "The aim is what people said. A turn that nobody told, or wind, is not in it."
    yield "Curves are thinned for drawing; of readings that fall together the extremes stay."
