"""The forecasts of a cook as they were given, and what came of them, for its report."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from noonpot.core.cookreport import CookReport, LoadTale
from noonpot.core.forecast import Forecast
from noonpot.core.markup import Inside, Markup
from noonpot.core.paper import CORE, INK, LEFT, RIGHT, Panel, drawing, key, level
from noonpot.core.reportframe import figure, paragraph, section, table
from noonpot.core.reportpicture import DASHES, FULL, SLIM
from noonpot.core.reportwords import clock, span

MOST_ROWS = 12
NOTHING = "-"


def foreseen(report: CookReport) -> Iterator[Markup]:
    """The forecasts of each load as they were given, and what came of them."""
    for tale in report.loads:
        given = [
            f
            for f in report.forecasts
            if tale.holds(f.at) and (tale.reached is None or f.at < tale.reached)
        ]
        name = f"Foreseen for {tale.load.food or 'the food'}, and what came of it"
        if not given:
            yield section(name, paragraph("No forecast was given."))
            continue
        timed = [f for f in given if f.done_p10 and f.done_p50 and f.done_p90]
        drawn = None
        if len(timed) >= 2:
            full, slim = (ribbon(tale, timed, report, width) for width in (FULL, SLIM))
            drawn = figure(full, slim, "Across: when it was said. The band holds eight in ten.")
        columns = ["said at", "chance", "about", "eight in ten", "was off by"]
        every = -(-len(given) // MOST_ROWS)
        rows = [_row(f, tale, report) for f in given[::every]]
        yield section(
            name, paragraph(_outcome(timed, given[0], tale, report)), drawn, table(columns, rows)
        )


def _outcome(timed: Sequence[Forecast], first: Forecast, tale: LoadTale, report: CookReport) -> str:
    said = (
        f"The first forecast gave a chance of {first.p_done:.0%} to reach its target by this sun."
    )
    if tale.reached is None:
        return f"{said} Its core did not come to its target, as far as was measured."
    reached, hit = tale.reached, 0
    for f in timed:
        hit += (
            f.done_p10 is not None
            and f.done_p90 is not None
            and f.done_p10 <= reached <= f.done_p90
        )
    at = clock(reached, report.cook.started_at, report.wording)
    return f"{said} It did at {at}; {hit} of {len(timed)} forecasts had that in their band."


def _row(f: Forecast, tale: LoadTale, report: CookReport) -> Sequence[Inside]:
    begun, words = report.cook.started_at, report.wording
    head = (clock(f.at, begun, words), f"{f.p_done:.0%}")
    if f.done_p10 is None or f.done_p50 is None or f.done_p90 is None:
        return (*head, NOTHING, NOTHING, NOTHING)
    p10, p50, p90 = (clock(at, begun, words) for at in (f.done_p10, f.done_p50, f.done_p90))
    return (*head, p50, f"{p10} to {p90}", _off_by(f, tale))


def _off_by(f: Forecast, tale: LoadTale) -> str:
    if tale.reached is None or f.done_p50 is None:
        return NOTHING
    late_s = (f.done_p50 - tale.reached).total_seconds()
    if abs(late_s) < 60:
        return "nothing"
    return f"{span(abs(late_s))} {'late' if late_s > 0 else 'early'}"


def ribbon(tale: LoadTale, given: Sequence[Forecast], report: CookReport, width: float) -> Markup:
    """When it was said to reach its target, as time went by, against when it did."""
    ends = [at for f in given for at in (f.done_p10, f.done_p90) if at is not None]
    low, high = (at.timestamp() for at in (min(ends), max(ends)))
    step_s = next((s for s in (900, 1800, 3600, 7200) if (high - low) / s <= 7), 14_400)
    low, high = low // step_s * step_s, -(-high // step_s) * step_s
    panel = Panel(width, 24, 170.0, given[0].at, given[-1].at, low, max(high, low + step_s))
    times = range(int(panel.low), int(panel.high) + 1, step_s)
    clock = report.wording.clock
    band = [
        (f.at, f.done_p10.timestamp(), f.done_p90.timestamp())
        for f in given
        if f.done_p10 is not None and f.done_p90 is not None
    ]
    middle = [(f.at, None if f.done_p50 is None else f.done_p50.timestamp()) for f in given]
    was = None
    names: list[tuple[str, str, str | None]] = [("said to reach its target", CORE, DASHES)]
    if tale.reached is not None:
        y = panel.y(tale.reached.timestamp())
        was = level(LEFT, width - RIGHT, y, stroke=INK, stroke_width=1.5)
        names.append(("did", INK, None))
    return drawing(
        width,
        panel.foot + 22,
        "When it was said to reach its target, as time went by, and when it did",
        key(12, names),
        *panel.levels((s, clock(datetime.fromtimestamp(s, UTC))) for s in times),
        *panel.clocks(report.wording, told=True),
        panel.band(band, CORE),
        panel.line(middle, stroke=CORE, stroke_width=2, stroke_dasharray=DASHES),
        was,
    )
