"""Panels of a drawing over one span of time: scales, axes, lines, bands. It is SVG by attributes
alone.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from noonpot.core.markup import Inside, Markup, join, tag
from noonpot.core.wording import Wording

# Told apart by lightness, width and dashes too, for eyes that do not tell all colours apart.
POT, CORE, AIR, SUN, AIM = "#d55e00", "#0072b2", "#77736b", "#b07d00", "#009e73"
INK, FAINT, RULE, PAPER = "#23211d", "#655f55", "#ded7c9", "#fffdf8"
LEFT, RIGHT = 46.0, 8.0
SMALL = 11.0
STEPS_S = (600, 900, 1800, 3600, 7200, 10_800, 21_600)
TICK_ROOM, HALF_CLOCK = 52.0, 16.0
"""So much room a time needs below the axis, and half of its own width."""

Point = tuple[datetime, float | None]


@dataclass(frozen=True, slots=True)
class Panel:
    """A window of the drawing: times ``begin`` to ``end`` across, values ``low`` to ``high`` from
    ``top`` down over ``height``, of a drawing that is ``width`` wide.
    """

    width: float
    top: float
    height: float
    begin: datetime
    end: datetime
    low: float
    high: float

    @property
    def foot(self) -> float:
        """Its lower edge."""
        return self.top + self.height

    def x(self, at: datetime) -> float:
        """Where a time lies across."""
        return LEFT + (at - self.begin) / (self.end - self.begin) * (self.width - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Where a value lies from the top; what is beyond the panel lies on its edge."""
        share = (value - self.low) / (self.high - self.low)
        return self.foot - min(max(share, 0.0), 1.0) * self.height

    def levels(self, ticks: Iterable[tuple[float, str]]) -> Iterator[Markup]:
        """Level lines with what they stand for."""
        for value, words in ticks:
            y = self.y(value)
            yield level(LEFT, self.width - RIGHT, y, stroke=RULE)
            yield text(LEFT - 6, y + 4, words, text_anchor="end")

    def clocks(self, wording: Wording, *, told: bool) -> Iterator[Markup]:
        """Upright lines at round hours of the household's clock, with the time below when told."""
        room = (self.width - LEFT - RIGHT) / TICK_ROOM
        whole_s = (self.end - self.begin).total_seconds()
        step_s = next((s for s in STEPS_S if whole_s / s <= room), STEPS_S[-1])
        shift_s = (self.begin.astimezone(wording.timezone).utcoffset() or timedelta()).seconds
        first = -(-(self.begin.timestamp() + shift_s) // step_s) * step_s - shift_s
        for i in range(int(whole_s // step_s) + 1):
            at = datetime.fromtimestamp(first + i * step_s, UTC)
            if at <= self.end:
                x = self.x(at)
                yield upright(x, self.top, self.foot, stroke=RULE)
                if told:
                    middle = min(x, self.width - HALF_CLOCK)
                    yield text(middle, self.foot + 15, wording.clock(at), text_anchor="middle")

    def line(self, points: Iterable[Point], **style: str | float) -> Markup | None:
        """A line through the points; it breaks where a value is None. None without two points."""
        way: list[str] = []
        pen = "M"
        for at, value in points:
            if value is None or not self.begin <= at <= self.end:
                pen = "M"
                continue
            way.append(f"{pen}{self.x(at):.1f} {self.y(value):.1f}")
            pen = "L"
        drawn = "".join(way)
        if "L" not in drawn:
            return None
        return tag("path", d=drawn, fill="none", stroke_linejoin="round", **style)

    def band(self, points: Sequence[tuple[datetime, float, float]], colour: str) -> Markup | None:
        """The area between a lower and an upper value. None without two points."""
        if len(points) < 2:
            return None
        there = [(self.x(at), self.y(high)) for at, _, high in points]
        back = [(self.x(at), self.y(low)) for at, low, _ in reversed(points)]
        corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in (*there, *back))
        return tag("polygon", points=corners, fill=colour, fill_opacity=0.22)


def drawing(width: float, height: float, label: str, *parts: Inside) -> Markup:
    """A whole picture; ``label`` tells it to those who cannot see it."""
    return tag(
        "svg",
        *parts,
        viewBox=f"0 0 {width:g} {height:g}",
        role="img",
        aria_label=label,
        font_family="sans-serif",
        font_size=SMALL,
        fill=INK,
    )


def text(x: float, y: float, words: str, **style: str | float) -> Markup:
    """Words at a place; their foot stands on y."""
    return tag("text", words, x=x, y=y, **({"fill": FAINT} | style))


def level(x1: float, x2: float, y: float, **style: str | float) -> Markup:
    """A level line."""
    return tag("path", d=f"M{x1:.1f} {y:.1f}H{x2:.1f}", **style)


def upright(x: float, y1: float, y2: float, **style: str | float) -> Markup:
    """An upright line."""
    return tag("path", d=f"M{x:.1f} {y1:.1f}V{y2:.1f}", **style)


def key(y: float, names: Iterable[tuple[str, str, str | None]]) -> Markup:
    """What the lines are: name, colour, dashes, one beside the other."""
    x, parts = LEFT, []
    for name, colour, dashes in names:
        style: dict[str, str | float] = {"stroke": colour, "stroke_width": 2.5}
        if dashes:
            style["stroke_dasharray"] = dashes
        parts += [level(x, x + 16, y - 4, **style), text(x + 21, y, name)]
        x += 34 + 6.2 * len(name)
    return join(*parts)
