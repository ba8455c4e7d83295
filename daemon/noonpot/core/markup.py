"""HTML and SVG out of nested calls: whatever is not markup already is escaped."""

from html import escape

GONE = dict.fromkeys(
    (
        *(*range(9), *range(11, 32), 0x7F),
        *(*range(0x202A, 0x202F), *range(0x2066, 0x206A)),
        *(*range(0xD800, 0xE000), 0xFFFE, 0xFFFF),
    )
)
"""Signs that XML may not hold, and those that turn the direction of what is read after them."""
EMPTY = ("br", "meta")
"""Elements that hold nothing and are not closed."""


class Markup(str):
    """Text that is markup already. Only ``tag`` and ``join`` make it of what people typed."""

    __slots__ = ()


Inside = str | None
"""What stands in an element: markup as it is, other text escaped, None not at all."""


def escaped(text: str) -> Markup:
    r"""The text as it shall be read; what neither HTML nor XML may hold is left out.

    >>> escaped("soup <b>&\x00")
    'soup &lt;b&gt;&amp;'
    """
    return text if isinstance(text, Markup) else Markup(escape(text.translate(GONE)))


def tag(name: str, /, *inside: Inside, **attributes: str | float | None) -> Markup:
    """One element. ``class_`` is written as class, ``stroke_width`` as stroke-width; an attribute
    that is None is left out, and a number keeps two decimals at most.

    >>> tag("p", "1 < 2", tag("b", "so"), class_="quiet")
    '<p class="quiet">1 &lt; 2<b>so</b></p>'
    """
    told = "".join(
        f' {_name(key)}="{escaped(_value(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    if name in EMPTY:
        return Markup(f"<{name}{told}>")
    return Markup(f"<{name}{told}>{join(*inside)}</{name}>")


def join(*parts: Inside) -> Markup:
    """The parts one after the other."""
    return Markup("".join(escaped(part) for part in parts if part is not None))


def _name(key: str) -> str:
    # SVG alone has names with capitals, which are written as they are
    return key.rstrip("_").replace("_", "-")


def _value(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:.2f}".rstrip("0").rstrip(".")
