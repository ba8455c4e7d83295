"""The curves of a cook, for its report: heat, what was done, light and misaim."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from noonpot.core.cookreport import CookReport, Look
from noonpot.core.markup import Inside, Markup, tag
from noonpot.core.paper import (
    AIM,
    AIR,
    CORE,
    FAINT,
    INK,
    LEFT,
    PAPER,
    POT,
    RIGHT,
    SUN,
    Panel,
    Point,
    drawing,
    key,
    level,
    text,
    upright,
)
from noonpot.core.readings import Role
from noonpot.core.safety import COLD_C, HOT_C
from noonpot.core.units import in_unit

FULL, SLIM = 720.0, 350.0
"""Widths for paper and desk, and for a phone; letters have the same size in both."""
MARK_ROOM, TITLE_ROOM = 15.0, 26.0
SHORTEST = timedelta(minutes=10)
SILENT_S = 300.0
DASHES = "5 4"
LIGHT_WM2 = 500.0


def curves(report: CookReport, width: float) -> Markup | None:
    """Pot, core and air, what people did, sunlight and misaim; None where nothing was measured."""
    parts, height = _whole(report, width)
    label = f"Temperatures of pot, core and air in {report.cook.cooker}, and what was done when"
    return drawing(width, height, label, *parts) if parts else None


def titled(report: CookReport, title: str) -> str:
    """The same as an SVG file of its own. Raises ValueError where nothing was measured."""
    parts, height = _whole(report, FULL)
    if not parts:
        raise ValueError("nothing was measured, so there is nothing to draw")
    height += TITLE_ROOM
    drawn = drawing(
        FULL,
        height,
        title,
        tag("rect", width=FULL, height=height, fill="#ffffff"),
        text(LEFT, 19, title, font_size=15, font_weight="bold", fill=INK),
        tag("g", *parts, transform=f"translate(0 {TITLE_ROOM:g})"),
    )
    return drawn.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)


def _whole(report: CookReport, width: float) -> tuple[list[Inside], float]:
    """All panels, and how high they are; none where nothing was measured."""
    lines = {role: _stored(report, role) for role in (Role.POT, Role.CORE, Role.AMBIENT)}
    told = [value for line in lines.values() for _, value in line if value is not None]
    if not told:
        return [], 0.0
    begin = report.cook.started_at
    end = max(report.until, begin + SHORTEST)
    targets = [load.target_c for load in report.loads if load.target_c is not None]
    low_c = 20.0 * (min(*told, 20.0) // 20.0)
    high_c = 20.0 * (max(*told, *targets, 60.0) // 20.0 + 1)
    heat = Panel(width, 0, 260.0, begin, end, low_c, high_c)
    rows = _rows(heat, report)
    heat = replace(heat, top=30 + MARK_ROOM * (1 + max(rows, default=0)))
    parts: list[Inside] = [*_heat(report, heat, lines), *_marks(report, heat, rows)]
    foot = heat.foot + 22
    for panel_of in (_light, _misaim):
        drawn = list(panel_of(report, Panel(width, foot + 22, 76.0, begin, end, 0.0, 1.0)))
        if drawn:
            parts += drawn
            foot += 22 + 76 + 22
    return parts, foot


def _stored(report: CookReport, role: Role) -> list[Point]:
    """The readings of one role; those of a core before there was food are those of its probe."""
    curve = report.curve
    values = curve.values.get(role, ())
    times = (datetime.fromtimestamp(s, UTC) for s in curve.times_s)
    line = list(zip(times, values, strict=False))
    if role is not Role.CORE:
        return line
    loaded = report.loads[0].load.at if report.loads else None
    return [(at, value) for at, value in line if loaded is None or at >= loaded]


def _heat(report: CookReport, heat: Panel, lines: dict[Role, list[Point]]) -> Iterator[Inside]:
    wording = report.wording
    yield key(12, [("pot", POT, None), ("core", CORE, None), ("air", AIR, "2 3")])
    if any(load.safety for load in report.loads):
        top, foot = heat.y(HOT_C), heat.y(COLD_C)
        zone = {"x": LEFT, "y": top, "width": heat.width - LEFT - RIGHT, "height": foot - top}
        yield tag("rect", **zone, fill=POT, fill_opacity=0.07)
        yield text(heat.width - RIGHT - 4, top + 13, "danger zone", text_anchor="end")
    yield from heat.levels(_degrees(heat, wording.units))
    yield from heat.clocks(wording, told=True)
    for target_c in sorted({load.target_c for load in report.loads if load.target_c is not None}):
        y = heat.y(target_c)
        yield level(LEFT, heat.width - RIGHT, y, stroke=INK, stroke_dasharray="7 4")
        yield text(LEFT + 4, y - 5, f"target {wording.temperature(target_c)}")
    yield heat.line(lines[Role.AMBIENT], stroke=AIR, stroke_width=1.2, stroke_dasharray="2 3")
    yield heat.line(lines[Role.POT], stroke=POT, stroke_width=1.5)
    yield heat.line(lines[Role.CORE], stroke=CORE, stroke_width=2.6)


def _degrees(heat: Panel, units: str) -> Iterator[tuple[float, str]]:
    """Round degrees of the household's unit."""
    step = 20.0 if units == "C" else 50.0
    value = -(-in_unit(heat.low, units) // step) * step
    while value <= in_unit(heat.high, units) + 0.01:
        yield value if units == "C" else (value - 32.0) / 1.8, f"{value:.0f} °{units}"
        value += step


def _rows(panel: Panel, report: CookReport) -> list[int]:
    """In which row the number of each event stands, so that none hides another."""
    ends: list[float] = []
    rows = []
    for event in report.events:
        x = panel.x(event.at)
        row = next((i for i, end in enumerate(ends) if end <= x), len(ends))
        ends[row : row + 1] = [x + MARK_ROOM]
        rows.append(row)
    return rows


def _marks(report: CookReport, heat: Panel, rows: Sequence[int]) -> Iterator[Inside]:
    for number, (event, row) in enumerate(zip(report.events, rows, strict=True), start=1):
        x, y = heat.x(event.at), heat.top - 13 - MARK_ROOM * row
        yield upright(x, y, heat.foot, stroke=FAINT, stroke_width=0.7, stroke_dasharray="1 3")
        yield tag("circle", cx=x, cy=y, r=7, fill=PAPER, stroke=FAINT)
        yield text(x, y + 3.5, str(number), text_anchor="middle", font_size=9.5, fill=INK)


def _light(report: CookReport, panel: Panel) -> Iterator[Inside]:
    """Sunlight on a level surface, under the clear sky of that hour."""
    measured = _looked(report, lambda look: look.irradiance_wm2)
    clear = _looked(report, lambda look: look.sun.ghi if look.sun else None)
    told = [v for line in (measured, clear) for _, v in line if v is not None]
    if not told:
        return
    panel = replace(panel, high=LIGHT_WM2 * (max(told) // LIGHT_WM2 + 1))
    names = [("sunlight, W/m²", SUN, None), ("that of a clear sky, W/m²", FAINT, DASHES)]
    yield key(
        panel.top - 8,
        [name for name, line in zip(names, (measured, clear), strict=True) if _any(line)],
    )
    ticks = range(0, int(panel.high) + 1, int(LIGHT_WM2))
    yield from panel.levels((float(w), str(w)) for w in ticks)
    yield from panel.clocks(report.wording, told=True)
    yield panel.line(clear, stroke=FAINT, stroke_width=1.2, stroke_dasharray=DASHES)
    yield panel.line(measured, stroke=SUN, stroke_width=1.5)


def _misaim(report: CookReport, panel: Panel) -> Iterator[Inside]:
    """How far the cooker pointed beside the sun, and what it bears."""
    misaim = _looked(report, lambda look: look.misaim_deg if look.sun_up else None)
    told = [v for _, v in misaim if v is not None]
    if not told:
        return
    borne = report.cooker.acceptance_deg
    step = 30 if max(*told, borne) <= 90 else 60
    panel = replace(panel, high=step * (max(*told, borne) // step + 1))
    yield key(panel.top - 8, [("misaim", AIM, None), ("half the light is lost", INK, "7 4")])
    yield from panel.levels((float(d), f"{d}°") for d in range(0, int(panel.high) + 1, step))
    yield from panel.clocks(report.wording, told=True)
    y = panel.y(borne)
    yield level(LEFT, panel.width - RIGHT, y, stroke=INK, stroke_dasharray="7 4")
    yield panel.line(misaim, stroke=AIM, stroke_width=1.5)


def _any(line: Sequence[Point]) -> bool:
    return any(value is not None for _, value in line)


def _looked(report: CookReport, of: Callable[[Look], float | None]) -> list[Point]:
    """One quantity of the looks, as many as can be seen, broken where there was none for long."""
    every = max(len(report.looks) // int(FULL / 2), 1)
    looks = report.looks[::every]
    line: list[Point] = [(looks[0].at, of(looks[0]))] if looks else []
    for before, look in pairwise(looks):
        if (look.at - before.at).total_seconds() > max(SILENT_S, every * 30.0):
            line.append((before.at, None))
        line.append((look.at, of(look)))
    return line
