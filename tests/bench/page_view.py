"""How heavy and how quick the page is in a browser: python tests/bench/page_view.py

The real daemon and the real process of the page, simulated cookers at the pace of the demo, and
Chromium, all on this machine; each visit begins with an empty cache. The long cook lasts nine hours
and was read every five seconds. The floor of a visit is one to a file of as many bytes of plain
HTML, from the server of Python's library.
"""

import functools
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from bench.budgets import LIVE, PAGE_BYTES, USABLE, free
from bench.figures import Figure, Series, once, section
from bench.processes import CLOCK
from browser.station import MORNING, Station
from browser.viewer import PHONE, launched, viewing

VISITS = 9
DEMO_RATE = 150.0
KB = 1024
Draw = tuple[float, int, int]
LONG_COOK_STEP_S = 5.0
CHART = "uPlot"
# The page notes when its live stream has brought the first state.
HEARD = """() => {
  const Source = window.EventSource;
  window.EventSource = class extends Source {
    constructor(...given) {
      super(...given);
      this.addEventListener('shown', () => { window.heard ??= performance.now(); });
    }
  };
}"""
# The page draws by uPlot alone; what its drawing takes is counted around it.
TIMED = """() => {
  let real;
  window.drawn = [];
  Object.defineProperty(window, 'uPlot', { configurable: true, get: () => real, set: (chart) => {
    const timed = function (...given) {
      const begun = performance.now();
      const made = new chart(...given);
      window.drawn.push({ begun, points: given[1][0].length, curves: given[1].length - 1 });
      return made;
    };
    real = Object.assign(timed, chart);
  } });
}"""
DRAWN = """() => {
  if (!window.drawn.length) return null;
  return new Promise((told) => requestAnimationFrame(() => requestAnimationFrame(() => {
    const { begun, points, curves } = window.drawn.at(-1);
    told([performance.now() - begun, points, curves]);
  })));
}"""


@dataclass(frozen=True, slots=True)
class Visit:
    """One opening of the first view: bytes of the page itself, of its chart library among them, and
    of its data; how long until the first values and until live ones stood there [s].
    """

    own: int
    chart: int
    data: int
    first_s: float
    live_s: float


def visit(browser: Browser, address: str) -> Visit:
    """Open the first view with an empty cache."""
    with viewing(browser, address, PHONE) as viewer:
        viewer.page.add_init_script(f"({HEARD})()")
        begun_s = CLOCK.moment().mono_s
        viewer.go("now")
        viewer.page.locator("article .big").first.wait_for()
        first_s = CLOCK.moment().mono_s - begun_s
        viewer.wait_for("window.heard")
        live_s = CLOCK.moment().mono_s - begun_s
        viewer.wait_for("window.uPlot !== undefined")
        sizes = {a.url: len(a.body()) for a in viewer.fetched if not a.url.endswith("/api/live")}
        own = sum(size for url, size in sizes.items() if "/api/" not in url)
        chart = sum(size for url, size in sizes.items() if CHART in url)
        return Visit(own, chart, sum(sizes.values()) - own, first_s, live_s)


class Quiet(SimpleHTTPRequestHandler):
    """Serves a folder and says nothing of it."""

    def log_message(self, *_: object) -> None: ...


@contextmanager
def plain_page(folder: Path, size: int) -> Iterator[str]:
    """A file of plain HTML of so many bytes, served; gives its address."""
    head = b"<!doctype html><title>plain</title><article><p class=big>60</p></article><!--"
    (folder / "index.html").write_bytes(head + b"x" * (size - len(head) - 3) + b"-->")
    with ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Quiet, directory=folder)
    ) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def plain_visit_s(browser: Browser, address: str) -> float:
    """The floor: how long until a plain page shows its one value [s]."""
    context = browser.new_context()
    page = context.new_page()
    begun_s = CLOCK.moment().mono_s
    page.goto(address)
    page.locator("article .big").first.wait_for()
    took_s = CLOCK.moment().mono_s - begun_s
    context.close()
    return took_s


def draw(browser: Browser, address: str, cook: int) -> Draw:
    """Open a cook; returns how long its chart takes to draw [ms], its points and its curves."""
    with viewing(browser, address, PHONE) as viewer:
        viewer.page.add_init_script(f"({TIMED})()")
        viewer.go(f"cooks/{cook}")
        viewer.wait_for("window.drawn?.length > 0")
        took_ms, points, curves = viewer.page.evaluate(DRAWN)
        return took_ms, points, curves


def figures(
    visits: Sequence[Visit], plain_s: Sequence[float], draws: Sequence[Draw]
) -> list[Figure]:
    """All that was measured."""
    last, floor = visits[-1], Series(plain_s)
    _, points, lines = draws[-1]
    drawing = free(f"a chart of 9 h drawn, {lines} lines of {points} points", " ms", 0)
    return [
        Figure(PAGE_BYTES, once(last.own / KB), once(last.chart / KB)),
        Figure(free("its data", " KB", 1), once(last.data / KB)),
        Figure(USABLE, Series([v.first_s for v in visits]), floor),
        Figure(LIVE, Series([v.live_s for v in visits]), floor),
        Figure(drawing, Series([took_ms for took_ms, _, _ in draws])),
    ]


def main() -> None:
    """Measure and print the table."""
    visits, plain_s = [], []
    with tempfile.TemporaryDirectory() as made, sync_playwright() as playwright:
        folder, plain = Path(made) / "station", Path(made) / "plain"
        for each in (folder, plain):
            each.mkdir()
        station = Station(folder, DEMO_RATE, MORNING)
        station.remember(1, "box", "bread", LONG_COOK_STEP_S)
        browser = launched(playwright)
        with station:
            size = visit(browser, station.address).own
            with plain_page(plain, size) as address:
                for _ in range(VISITS):
                    visits.append(visit(browser, station.address))
                    plain_s.append(plain_visit_s(browser, address))
            draws = [draw(browser, station.address, 1) for _ in range(VISITS)]
        browser.close()
    print(
        section(
            "The page in a browser",
            figures(visits, plain_s, draws),
            "Each visit begins with an empty cache, on the station of the demo; one visit before "
            "them is not counted. KB are 1024 bytes, as sent.",
            "Floor of the bytes: the chart library alone. Floor of a visit: one to a single file "
            "of as many bytes of plain HTML, in the same browser.",
        )
    )


if __name__ == "__main__":
    main()
