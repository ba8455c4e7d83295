"""A page that shows what a test has set: no news come, so that nothing moves."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Route

from browser.viewer import Viewer

Topics = dict[str, dict[str, Any]]
SILENT = "() => { window.EventSource = class extends EventTarget { close() {} }; }"
"""A line that says nothing, and stays."""
NOON = "2026-06-21T18:00:00Z"
"""12:00 at the station, and for who looks from its zone."""
FED = "2026-06-21T16:00:00Z"


@dataclass
class Scene:
    """What `box` shows at noon; the other cooker rests, too cool to burn."""

    now: dict[str, Any] = field(default_factory=dict)
    cook: dict[str, Any] | None = None
    forecast: dict[str, Any] | None = None
    alarms: Sequence[Mapping[str, Any]] = ()

    def set_for(self, viewer: Viewer) -> None:
        """Let a window see this, whatever the station says."""
        seen_through(viewer, self._set)

    def _set(self, topics: Topics) -> None:
        for name in [name for name in topics if "/alarm/" in name or name.endswith("/forecast")]:
            del topics[name]
        for cooker in ("box", "iron"):
            topics[f"{cooker}/now"] |= {
                "time": NOON,
                "cook": None,
                "pot_c": 59.0,
                "core_c": 25.0,
                "faults": [],
                "advice": "Leave it closed.",
                "advice_alarm": None,
                "safety": None,
                "misaim_deg": None,
            }
        cook = None if self.cook is None else COOK | self.cook
        topics["box/now"] |= {"cook": cook, **self.now}
        if self.forecast is not None:
            topics["box/forecast"] = FORECAST | self.forecast
        for alarm in self.alarms:
            topics[f"box/alarm/{alarm['alarm']}"] = ALARM | dict(alarm)


COOK: dict[str, Any] = {
    "id": 7,
    "food": "beans",
    "since": FED,
    "loaded_at": FED,
    "mass_kg": 1.0,
    "target_c": 90.0,
    "hold_s": 0.0,
    "loading_pot_c": None,
    "meal_at": None,
    "hazardous": False,
}
FORECAST: dict[str, Any] = {
    "time": NOON,
    "station": "orchard",
    "cooker": "box",
    "target_c": 90.0,
    "p_done": 0.9,
    "done_p10": "2026-06-21T18:30:00Z",
    "done_p50": "2026-06-21T19:00:00Z",
    "done_p90": "2026-06-21T20:00:00Z",
    "clear_sky_index": None,
    "misaim_deg": None,
    "turn_saves_s": None,
    "core_estimated": False,
    "curve": [],
    "rescue_at": None,
    "rescue_because": None,
    "reasons": [],
}
ALARM: dict[str, Any] = {
    "time": NOON,
    "station": "orchard",
    "cooker": "box",
    "state": "unacknowledged",
    "since": NOON,
    "priority": "medium",
    "text": "box: look at it.",
}


def seen_through(viewer: Viewer, change: Callable[[Topics], None]) -> None:
    """Change what a window sees at its first look; after that it hears nothing more."""

    def now(route: Route) -> None:
        answer = route.fetch()
        said = answer.json()
        change(said["topics"])
        route.fulfill(response=answer, json=said)

    viewer.page.route("**/api/now", now)
    viewer.page.add_init_script(f"({SILENT})()")
