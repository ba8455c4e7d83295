"""The frame of every report: one page of HTML that needs nothing else, on a screen and on paper.

It holds no script, and names no other file: its style is inline, its pictures are inline SVG with
attributes alone, so a reader that forbids everything but this one style shows all of it.
"""

import base64
import hashlib
from collections.abc import Iterable, Sequence

from noonpot.core.markup import Inside, Markup, join, tag

# Paper and ink, as on the page: an orange and a blue that nobody mixes up (Okabe and Ito).
STYLE = """
:root { color-scheme: light; --ink: #23211d; --faint: #655f55; --rule: #ded7c9; --pot: #d55e00; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; background: #f6f3ec; }
body { margin: 0 auto; max-width: 52rem; padding: 1.5rem 1.2rem 3rem; color: var(--ink);
  background: #fffdf8; font: 1rem/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }
h1, h2, .lead { font-family: ui-serif, Georgia, "Liberation Serif", "Times New Roman", serif; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .2rem; }
h2 { font-size: 1.25rem; margin: 0 0 .5rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
p, ul, table, dl, figure { margin: 0 0 .7rem; }
section { border-top: 1px solid var(--rule); padding-top: 1rem; margin-top: 1.2rem; }
.quiet, footer, figcaption, dt, thead th { color: var(--faint); font-weight: 400; }
.quiet, footer, figcaption { font-size: .9rem; }
.lead { font-size: 1.15rem; margin-top: .8rem; }
.loud { border-left: 4px solid var(--pot); padding-left: .7rem; font-weight: 600; }
ul { padding-left: 1.1rem; }
li { margin-bottom: .25rem; }
table { border-collapse: collapse; width: 100%; font-size: .93rem;
  font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: baseline; padding: .28rem 1.1rem .28rem 0;
  border-bottom: 1px solid var(--rule); overflow-wrap: normal; }
th:last-child, td:last-child { padding-right: 0; overflow-wrap: anywhere; width: 100%; }
td:not(:last-child), th { white-space: nowrap; }
dl { display: grid; grid-template-columns: minmax(7rem, 11rem) 1fr; gap: .2rem 1rem; }
dd { margin: 0; }
svg { display: block; width: 100%; height: auto; }
.slim { display: none; }
footer { border-top: 1px solid var(--rule); margin-top: 1.5rem; padding-top: .6rem; }
@media screen and (max-width: 36rem) {
  .full { display: none; }
  .slim { display: block; }
  h1 { font-size: 1.6rem; }
  table { font-size: .85rem; }
  th, td { padding-right: .45rem; }
  dl { grid-template-columns: 7.5rem 1fr; }
}
@page { size: A4; margin: 15mm 16mm; }
@media print {
  html { font-size: 9.5pt; }
  html, body { background: #fff; }
  body { max-width: none; padding: 0; }
  th, td { padding-top: .18rem; padding-bottom: .18rem; }
  h2, h3, thead { break-after: avoid; }
  figure, tr, li, dl, .whole { break-inside: avoid; }
  section { margin-top: .8rem; padding-top: .7rem; }
  footer { break-before: avoid; }
}
"""
STYLE_HASH = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
POLICY = (
    f"default-src 'none'; style-src 'sha256-{STYLE_HASH}'; frame-ancestors 'none'; "
    "base-uri 'none'; form-action 'none'"
)
"""The content security policy under which a report is whole: nothing but this one style."""


def document(title: str, head: Iterable[Inside], sections: Iterable[Inside], foot: str) -> str:
    """The whole page. ``title`` is what the browser and the printer call it."""
    inside = tag(
        "html",
        tag(
            "head",
            tag("meta", charset="utf-8"),
            tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
            tag("title", title),
            tag("style", Markup(STYLE)),
        ),
        tag("body", tag("header", *head), *sections, tag("footer", foot)),
        lang="en",
    )
    # a number and its degrees stay on one line
    return f"<!doctype html>\n{inside}\n".replace(" °", "\N{NO-BREAK SPACE}°")


def section(title: str, *inside: Inside, whole: bool = False) -> Markup:
    """A part with a heading; a ``whole`` one is not torn apart by the end of a sheet."""
    return tag("section", tag("h2", title), *inside, class_="whole" if whole else None)


def paragraph(*inside: Inside, kind: str | None = None) -> Markup:
    """Some sentences; their ``kind`` is quiet, loud or lead."""
    return tag("p", *inside, class_=kind)


def bullets(lines: Iterable[Inside]) -> Markup | None:
    """A list, None of nothing."""
    items = [tag("li", line) for line in lines]
    return tag("ul", *items) if items else None


def pairs(facts: Iterable[tuple[str, Inside]]) -> Markup | None:
    """Names and what they stand for; what is None is left out."""
    known = [join(tag("dt", name), tag("dd", told)) for name, told in facts if told is not None]
    return tag("dl", *known) if known else None


def table(columns: Sequence[str], rows: Iterable[Sequence[Inside]]) -> Markup:
    """A table with a head."""
    return tag(
        "table",
        tag("thead", tag("tr", *(tag("th", name, scope="col") for name in columns))),
        tag("tbody", *(tag("tr", *(tag("td", cell) for cell in row)) for row in rows)),
    )


def figure(full: Inside, slim: Inside, caption: str) -> Markup:
    """A picture, drawn once for wide paper and once for a phone."""
    return tag(
        "figure",
        tag("div", full, class_="full"),
        tag("div", slim, class_="slim"),
        tag("figcaption", caption),
    )
