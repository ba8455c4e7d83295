"""How heavy and how quick the page is in a browser: python tests/bench/page_view.py

The real daemon and the real process of the page, simulated cookers at the pace of the demo, and
Chromium, all on this machine; each visit begins with an empty cache. The long cook lasts nine hours
and was read every five seconds.
"""

import statistics
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from browser.station import MORNING, Station
from browser.viewer import PHONE, launched, viewing
from noonpot.clock import SystemClock

VISITS = 9
DEMO_RATE = 150.0
BYTES, LIVE_S = 120 * 1024, 1.0
LONG_COOK_STEP_S = 5.0
CLOCK = SystemClock()
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


def visit(browser: Browser, address: str) -> tuple[int, int, float, float]:
    """Open the first view; returns its own bytes, those of its data, and how long it took until the
    first values and until live ones stood there [s].
    """
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
        return own, sum(sizes.values()) - own, first_s, live_s


def draw(browser: Browser, address: str, cook: int) -> tuple[float, int, int]:
    """Open a cook; returns how long its chart takes to draw [ms], its points and its curves."""
    with viewing(browser, address, PHONE) as viewer:
        viewer.page.add_init_script(f"({TIMED})()")
        viewer.go(f"cooks/{cook}")
        viewer.wait_for("window.drawn?.length > 0")
        took_ms, points, curves = viewer.page.evaluate(DRAWN)
        return took_ms, points, curves


def main() -> None:
    """Print the figures beside their budgets."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        station = Station(Path(folder), DEMO_RATE, MORNING)
        station.remember(1, "box", "bread", LONG_COOK_STEP_S)
        browser = launched(playwright)
        with station:
            visits = [visit(browser, station.address) for _ in range(VISITS)]
            draws = [draw(browser, station.address, 1) for _ in range(VISITS)]
        browser.close()
    own, data, first_s, live_s = (statistics.median(column) for column in zip(*visits, strict=True))
    print(
        f"first view: {own / 1000:.1f} kB, at most {BYTES / 1000:.1f}; its data {data / 1000:.1f}"
    )
    print(f"first values after {first_s:.2f} s, worst {max(v[2] for v in visits):.2f} s")
    print(
        f"live values after {live_s:.2f} s, worst {max(v[3] for v in visits):.2f} s of {VISITS}, "
        f"at most {LIVE_S:.0f} s"
    )
    took_ms, points, curves = draws[-1]
    took_ms = statistics.median(each[0] for each in draws)
    print(f"a chart of 9 h, {curves} curves of {points} points: drawn in {took_ms:.0f} ms")


if __name__ == "__main__":
    main()
