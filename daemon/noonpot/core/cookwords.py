"""The report of one cook as a page: what was done, foreseen and measured, and if it is safe."""

from collections.abc import Callable, Iterator, Mapping

from noonpot.core.cook import Event, EventKind
from noonpot.core.cookreport import CookReport
from noonpot.core.foreseenwords import foreseen
from noonpot.core.markup import Markup, join, tag
from noonpot.core.moment import utc
from noonpot.core.reportframe import bullets, document, figure, paragraph, section, table
from noonpot.core.reportpicture import FULL, SLIM, curves
from noonpot.core.reportwords import CAUTIONS, clock, day, limits, span
from noonpot.core.safetywords import safety
from noonpot.core.skywords import sky
from noonpot.core.wording import Wording

KINDS = {
    EventKind.START: "began",
    EventKind.LOAD: "put in",
    EventKind.UNLOAD: "taken out",
    EventKind.AIM: "turned",
    EventKind.LID: "lid open",
    EventKind.SPOT: "own thermometer",
    EventKind.STOP: "ended",
}


def page(report: CookReport) -> str:
    """The whole report as HTML."""
    cook = report.cook
    head = [
        tag("h1", title(report)),
        paragraph(
            f"{day(cook.started_at, report.wording)} · {report.station}, cook {cook.id}",
            kind="quiet",
        ),
        *(paragraph(line, kind="lead") for line in _summary(report)),
    ]
    sections = [
        _course(report),
        *foreseen(report),
        *(safety(load, report) for load in report.loads),
        sky(report),
        _verdict(report),
        section("What these numbers cannot tell", bullets(limits(report.wording)), whole=True),
        section("Before anybody touches or eats", bullets(CAUTIONS), whole=True),
    ]
    made = report.made_at.astimezone(report.wording.timezone)
    foot = f"Made by Noonpot on {made:%Y-%m-%d} at {made:%H:%M}, times of {report.wording.timezone}"
    return document(f"{title(report)}, {made_on(report)}", head, sections, f"{foot}.")


def title(report: CookReport) -> str:
    """What was cooked in which cooker."""
    foods = list(dict.fromkeys(load.load.food for load in report.loads if load.load.food))
    food = " and ".join(foods) or report.cook.food or "A cook"
    return f"{food[:1].upper()}{food[1:]} in {report.cook.cooker}"


def made_on(report: CookReport) -> str:
    """The date of the cook, as files are named."""
    return f"{report.cook.started_at.astimezone(report.wording.timezone):%Y-%m-%d}"


def _summary(report: CookReport) -> Iterator[str]:
    """A sentence for each load."""
    words, begun = report.wording, report.cook.started_at
    for tale in report.loads:
        load = tale.load
        what = f"{load.mass_kg:g} kg of {load.food or 'food'}" if load.mass_kg else load.food
        said = f"{what or 'Something'} went in at {clock(load.at, begun, words)}"
        if load.start_c is not None:
            said += f" at {words.temperature(load.start_c)}"
        if tale.reached is not None and tale.target_c is not None:
            took = span((tale.reached - load.at).total_seconds())
            said += f". Its core came to {words.temperature(tale.target_c)} at "
            said += f"{clock(tale.reached, begun, words)}, after {took}; the watch "
            told = "never said that it was done"
            if tale.done is not None:
                told = f"said at {clock(tale.done, begun, words)} that it was done"
            said += told
        elif tale.target_c is not None:
            said += f"; its core was not seen at {words.temperature(tale.target_c)}"
        if tale.peak_core_c is not None:
            said += f". The highest was {words.temperature(tale.peak_core_c)}"
        yield f"{said[:1].upper()}{said[1:]}."
    if not report.loads:
        yield "Nothing was put in."
    if report.cut:
        yield f"The cook went on; this report looks at its first {span(_length_s(report))} alone."
    elif report.cook.running:
        yield f"The cook was under way at {clock(report.until, begun, words)}: this is not its end."


def _length_s(report: CookReport) -> float:
    return (report.until - report.cook.started_at).total_seconds()


def _course(report: CookReport) -> Markup:
    full, slim = curves(report, FULL), curves(report, SLIM)
    caption = "Numbers are those of the list below."
    drawn = paragraph("Nothing was measured.") if full is None else figure(full, slim, caption)
    rows = [
        (
            str(number),
            clock(event.at, report.cook.started_at, report.wording),
            _told(event, report),
        )
        for number, event in enumerate(report.events, start=1)
    ]
    happened = table(["", "time", "what"], rows) if rows else None
    return section("What happened", drawn, happened)


def _told(event: Event, report: CookReport) -> Markup:
    teller = _tellers(report.wording)
    details = [teller[k](v) if k in teller else f"{k} {v}" for k, v in event.detail.items()]
    kind = tag("b", KINDS.get(event.kind, str(event.kind)))
    return join(kind, f" {', '.join(details)}")


def _tellers(words: Wording) -> Mapping[str, Callable[[str], str]]:
    """How the details of events are told; what is no number stays as it was written."""

    def degrees(text: str) -> str:
        return _number(text, words.temperature)

    return {
        "food": str,
        "text": str,
        "azimuth": lambda v: _number(v, lambda n: f"bearing {n:.0f}°"),
        "elevation": lambda v: _number(v, lambda n: f"tilt {n:.0f}°"),
        "core_c": degrees,
        "start_c": lambda v: f"from {degrees(v)}",
        "target_c": lambda v: f"target {degrees(v)}",
        "mass_kg": lambda v: f"{v} kg",
        "meal": lambda v: f"meal at {_time(v, words)}",
    }


def _number(text: str, told: Callable[[float], str]) -> str:
    try:
        return told(float(text))
    except (ValueError, OverflowError):
        return text


def _time(text: str, words: Wording) -> str:
    try:
        return words.clock(utc(text))
    except ValueError:
        return text


def _verdict(report: CookReport) -> Markup | None:
    if report.verdict is None:
        return None
    detail = report.verdict.detail
    told = [
        f"{detail['rating']} of 5" if "rating" in detail else None,
        f"crumb {detail['crumb']}" if "crumb" in detail else None,
        f"crust {detail['browning']}" if "browning" in detail else None,
        detail.get("text"),
    ]
    return section("How it was", paragraph(" · ".join(part for part in told if part)))
