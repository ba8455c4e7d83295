"""A forecast as a picture (SVG): what was measured, what is to be expected, and when it is done."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from xml.sax.saxutils import escape

from noonpot.core.forecast import Forecast
from noonpot.core.units import in_unit
from noonpot.core.wording import Wording

WIDTH, HEIGHT = 720, 400
LEFT, RIGHT, TOP, BOTTOM = 52, 18, 52, 44
# Told apart by lightness and by dashes too, for eyes that do not tell all colours apart.
POT, CORE, SKY, INK, FAINT = "#b35806", "#0b4f8a", "#9ecae8", "#222222", "#d9d9d9"
AFTER = timedelta(minutes=40)
MOST_POINTS = 240

Curve = Sequence[tuple[datetime, float]]


@dataclass(frozen=True, slots=True)
class Picture:
    """What is drawn: ``pot`` and ``core`` as measured until the forecast [°C], and ``later``, what
    the core did after it, where that is known.
    """

    title: str
    pot: Curve
    core: Curve
    later: Curve
    forecast: Forecast


@dataclass(frozen=True, slots=True)
class _Scale:
    """From time and temperature to places on the paper."""

    begin: datetime
    end: datetime
    low_c: float
    high_c: float

    def x(self, at: datetime) -> float:
        share = (at - self.begin) / (self.end - self.begin)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, temp_c: float) -> float:
        share = (temp_c - self.low_c) / (self.high_c - self.low_c)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    def holds(self, at: datetime) -> bool:
        return self.begin <= at <= self.end


def svg(picture: Picture, wording: Wording) -> str:
    """The picture as the text of an SVG file. Raises ValueError where nothing was measured."""
    scale = _scale(picture)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"',
        f'  font-family="sans-serif" font-size="13" fill="{INK}">',
        f"<title>{escape(picture.title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="20" font-size="15" font-weight="bold">{escape(picture.title)}</text>',
        f'<text x="{LEFT}" y="39">{escape(said(picture.forecast, wording))}</text>',
        *_axes(scale, wording),
        *_ends(picture.forecast, scale, wording),
        *_fan(picture.forecast, scale),
        _line(picture.pot, scale, f'stroke="{POT}" stroke-width="1.5"'),
        _line(picture.later, scale, f'stroke="{CORE}" stroke-width="1.2" stroke-dasharray="2 3"'),
        _line(picture.core, scale, f'stroke="{CORE}" stroke-width="3"'),
        *_names(picture, scale),
        "</svg>",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def said(forecast: Forecast, wording: Wording) -> str:
    """The forecast in one sentence."""
    if forecast.done_p10 is None or forecast.done_p50 is None or forecast.done_p90 is None:
        return f"At {wording.clock(forecast.at)}: hardly any chance to be done by this sun."
    p10, p50, p90 = map(wording.clock, (forecast.done_p10, forecast.done_p50, forecast.done_p90))
    return (
        f"At {wording.clock(forecast.at)}: {forecast.p_done:.0%} chance; if so, about {p50}, "
        f"between {p10} and {p90} eight times in ten."
    )


def _scale(picture: Picture) -> _Scale:
    measured = [*picture.pot, *picture.core]
    if not measured:
        raise ValueError("nothing was measured, so there is nothing to draw")
    forecast = picture.forecast
    latest = forecast.done_p90 or forecast.at + 3 * AFTER
    end = max([latest, *(at for at, _ in picture.later)], default=latest) + AFTER
    temps = [value for _, value in measured] + [forecast.target_c]
    low_c = 20.0 * (min(*temps, 20.0) // 20.0)
    high_c = 20.0 * (max(temps) // 20.0 + 1)
    return _Scale(min(at for at, _ in measured), end, low_c, high_c)


def _axes(scale: _Scale, wording: Wording) -> Iterable[str]:
    step_c = 20.0 if wording.units == "C" else 500.0 / 18.0  # 20 °C, or 50 °F
    temp_c = scale.low_c
    if wording.units == "F":
        temp_c = (50.0 * -(-in_unit(scale.low_c, "F") // 50.0) - 32.0) / 1.8
    while temp_c <= scale.high_c + 0.01:
        y = scale.y(temp_c)
        yield f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="{FAINT}"/>'
        label = wording.temperature(temp_c)
        yield _text(LEFT - 6, y + 4, label, 'font-size="11" text-anchor="end"')
        temp_c += step_c
    local = scale.begin.astimezone(wording.timezone)
    hour = local.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    while scale.holds(hour):
        x = scale.x(hour)
        yield f'<path d="M{x:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="{FAINT}"/>'
        clock = wording.clock(hour)
        yield _text(x, HEIGHT - BOTTOM + 18, clock, 'font-size="11" text-anchor="middle"')
        hour += timedelta(hours=1)


def _ends(forecast: Forecast, scale: _Scale, wording: Wording) -> Iterable[str]:
    """The target, and where the core is expected to meet it."""
    y = scale.y(forecast.target_c)
    yield f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="{INK}" stroke-dasharray="7 4"/>'
    target = f"target {wording.temperature(forecast.target_c)}"
    yield _text(LEFT + 6, y - 6, target, 'font-size="12"')
    if forecast.done_p10 is None or forecast.done_p50 is None or forecast.done_p90 is None:
        return
    left, middle, right = map(scale.x, (forecast.done_p10, forecast.done_p50, forecast.done_p90))
    foot = HEIGHT - BOTTOM
    yield (
        f'<rect x="{left:.1f}" y="{foot - 8}" width="{max(right - left, 2):.1f}" height="8" '
        f'fill="{SKY}" stroke="{CORE}"/>'
    )
    yield f'<path d="M{middle:.1f} {y:.1f}V{foot}" stroke="{CORE}"/>'


def _fan(forecast: Forecast, scale: _Scale) -> Iterable[str]:
    points = [point for point in forecast.curve if scale.holds(point.at)]
    if not points:
        return
    upper = [(scale.x(p.at), scale.y(p.core_p90)) for p in points]
    lower = [(scale.x(p.at), scale.y(p.core_p10)) for p in reversed(points)]
    outline = " ".join(f"{x:.1f},{y:.1f}" for x, y in (*upper, *lower))
    yield f'<polygon points="{outline}" fill="{SKY}" fill-opacity="0.6"/>'
    middle = [(p.at, p.core_p50) for p in points]
    yield _line(middle, scale, f'stroke="{CORE}" stroke-width="2" stroke-dasharray="8 4"')


def _line(curve: Curve, scale: _Scale, style: str) -> str:
    shown = [(at, value) for at, value in curve if scale.holds(at)]
    thin = shown[:: max(len(shown) // MOST_POINTS, 1)]
    if len(thin) < 2:
        return ""
    places = " ".join(f"{scale.x(at):.1f},{scale.y(value):.1f}" for at, value in thin)
    return f'<polyline points="{places}" fill="none" stroke-linejoin="round" {style}/>'


def _names(picture: Picture, scale: _Scale) -> Iterable[str]:
    x = scale.x(picture.forecast.at)
    yield f'<path d="M{x:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="{INK}" stroke-width="1"/>'
    yield _text(x, HEIGHT - 8, "now", 'text-anchor="middle"')
    for name, curve, colour, share, drop in (
        ("pot", picture.pot, POT, 0.3, -6),
        ("core", picture.core, CORE, 0.6, -6),
        ("what came of it", picture.later, CORE, 0.6, 22),
    ):
        shown = [(at, value) for at, value in curve if scale.holds(at)]
        if shown:
            at, value = shown[int(len(shown) * share)]
            style = f'text-anchor="end" style="fill: {colour}"'
            yield _text(scale.x(at) - 6, scale.y(value) + drop, name, style)


def _text(x: float, y: float, words: str, style: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {style}>{escape(words)}</text>'
