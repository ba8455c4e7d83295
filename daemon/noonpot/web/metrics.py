"""The route for whoever watches the watcher: its health in numbers, as OpenMetrics 1.0.

Names end in their unit, what is not known is left out. The library is loaded when somebody asks for
the first time; most households never do.
"""

import os
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from noonpot.core.moment import utc
from noonpot.core.stationfacts import OWN
from noonpot.web.board import Payload
from noonpot.web.house import Card, House

if TYPE_CHECKING:
    from prometheus_client import Metric

PATH = "/metrics"
RAISED = ("unacknowledged", "acknowledged")
COOKER = (  # key of the topic "now", name, unit, meaning
    ("pot_c", "noonpot_pot_temperature", "celsius", "The pot, or the air in it."),
    ("core_c", "noonpot_core_temperature", "celsius", "The middle of the food."),
    ("ambient_c", "noonpot_air_temperature", "celsius", "The air outside, in shade."),
    ("irradiance_wm2", "noonpot_irradiance", "watts_per_square_metre", "On a level surface."),
    ("misaim_deg", "noonpot_misaim", "degrees", "Angle between aim and sun."),
)
READINGS = (  # key of "readings" in the topic "health", meaning
    ("oldest", "The oldest reading that is there as it was read."),
    ("rolled_up", "Before this, readings outside of cooks are ten-minute values."),
)
Value = tuple[tuple[str, ...], object]


class Metrics:
    """All numbers, made anew for each who asks."""

    def __init__(self, house: House) -> None:
        self._house = house

    async def metrics(self, _: Request) -> Response:
        """The numbers of now."""
        topics = dict(self._house.board.topics)
        body, kind = await run_in_threadpool(self._exposed, topics)
        return Response(body, media_type=kind)

    def _exposed(self, topics: Mapping[str, Payload]) -> tuple[bytes, str]:
        from prometheus_client import CollectorRegistry, ProcessCollector
        from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest

        registry = CollectorRegistry(auto_describe=False)
        registry.register(_Families([*self._of_the_house(), *_of_the_topics(topics)]))
        for name, process in (("noonpot_watch", os.getppid), ("noonpot_page", os.getpid)):
            ProcessCollector(namespace=name, pid=process, registry=registry)
        body: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]
        return body, CONTENT_TYPE_LATEST

    def _of_the_house(self) -> Iterator["Metric"]:
        """What the page itself knows: it hears the watch or not, and it sees the card."""
        from prometheus_client.core import CounterMetricFamily, InfoMetricFamily

        about, board = self._house.about, self._house.board
        yield InfoMetricFamily(
            "noonpot_build",
            "The program and its station.",
            value={"version": about.version, "station": about.station.name},
        )
        yield _gauge("noonpot_watch_heard", "Whether the watch was heard within 10 s.", board.alive)
        yield _gauge("noonpot_page_viewers", "How many look at the page.", board.viewers)
        refused = CounterMetricFamily(
            "noonpot_page_refusals", "Who was turned away from the page.", labels=["why"]
        )
        for why, count in self._house.refusals.counts.items():
            refused.add_metric([why], count)
        yield refused
        yield from _of_the_card(self._house.archive.card())


class _Families:
    """Families as the library collects them."""

    def __init__(self, families: Iterable["Metric"]) -> None:
        self._families = families

    def collect(self) -> Iterable["Metric"]:
        """All of them."""
        return self._families


def _of_the_card(card: Card) -> Iterator["Metric"]:
    yield _gauge("noonpot_store_readable", "Whether it can be read.", card.problem is None)
    yield _gauge("noonpot_store_size", "The data file.", card.size, "bytes")
    yield _gauge("noonpot_store_log", "What waits beside it to be merged.", card.log, "bytes")
    yield _gauge("noonpot_store_free", "What is free around it.", card.free, "bytes")


def _of_the_topics(topics: Mapping[str, Payload]) -> Iterator["Metric"]:
    """What the watch has said last."""
    states = {t.removesuffix("/now"): p for t, p in topics.items() if t.endswith("/now")}
    for key, name, unit, meaning in COOKER:
        values = [((cooker,), state.get(key)) for cooker, state in states.items()]
        yield _gauges(name, meaning, ("cooker",), values, unit)
    yield _gauges(
        "noonpot_cooking",
        "Whether a cook runs.",
        ("cooker",),
        [((cooker,), state.get("cook") is not None) for cooker, state in states.items()],
    )
    yield _gauges(
        "noonpot_state_timestamp",
        "When the watch last told of a cooker.",
        ("cooker",),
        [((cooker,), _unix_s(state.get("time"))) for cooker, state in states.items()],
        "seconds",
    )
    foreseen = [
        ((t.removesuffix("/forecast"),), p.get("p_done"))
        for t, p in topics.items()
        if t.endswith("/forecast")
    ]
    yield _gauges("noonpot_done", "Chance to be done today.", ("cooker",), foreseen, "ratio")
    faults = [
        ((str(fault["probe"]), str(fault["fault"])), 1)
        for state in states.values()
        for fault in _listed(state, "faults")
    ]
    yield _gauges(
        "noonpot_probe_faulty",
        "Probes that are not gone by.",
        ("probe", "fault"),
        dict(faults).items(),  # a probe that several cookers share is one all the same
    )
    yield from _alarms(topics)
    health = topics.get("health")
    if health is not None:
        yield from _of_the_health(health)


def _alarms(topics: Mapping[str, Payload]) -> Iterator["Metric"]:
    raised = [
        ((about, str(p["alarm"]), str(p["priority"])), p["state"] in RAISED)
        for about, p in (
            (t.partition("/alarm/")[0], p) for t, p in topics.items() if "/alarm/" in t
        )
    ]
    labels = ("cooker", "alarm", "priority")
    meaning = f"Whether an alarm holds; {OWN} is the station itself."
    yield _gauges("noonpot_alarm_raised", meaning, labels, raised)


def _of_the_health(health: Payload) -> Iterator["Metric"]:
    from prometheus_client.core import CounterMetricFamily

    yield _gauge(
        "noonpot_health_timestamp",
        "The last sign of life, one a minute.",
        _unix_s(health.get("time")),
        "seconds",
    )
    yield _gauge("noonpot_clock_trusted", "Whether it was set.", health.get("clock_trusted"))
    lines = [((str(c["channel"]),), c["problem"] is None) for c in _listed(health, "channels")]
    yield _gauges("noonpot_channel_up", "Whether it reaches people.", ("channel",), lines)
    counts = health.get("counts")
    told = CounterMetricFamily(
        "noonpot_occurrences", "What happened since the watch was started.", labels=["what"]
    )
    for what, count in counts.items() if isinstance(counts, Mapping) else ():
        told.add_metric([str(what)], count)
    yield told
    backup = health.get("backup")
    if isinstance(backup, Mapping):
        at_s = _unix_s(backup.get("time"))
        yield _gauge("noonpot_backup_timestamp", "The last good backup.", at_s, "seconds")
        meaning = "Whether the last try to make one went well."
        yield _gauge("noonpot_backup_good", meaning, backup.get("problem") is None)
        at_s = _unix_s(backup.get("compared"))
        meaning = "When one was last held against the data file row by row."
        yield _gauge("noonpot_backup_compared_timestamp", meaning, at_s, "seconds")
    readings = health.get("readings")
    if isinstance(readings, Mapping):
        for key, meaning in READINGS:
            at_s = _unix_s(readings.get(key))
            yield _gauge(f"noonpot_readings_{key}_timestamp", meaning, at_s, "seconds")


def _gauge(name: str, meaning: str, value: object, unit: str = "") -> "Metric":
    return _gauges(name, meaning, (), [((), value)], unit)


def _gauges(
    name: str, meaning: str, labels: tuple[str, ...], values: Iterable[Value], unit: str = ""
) -> "Metric":
    """A family; values that are not known have no line in it."""
    from prometheus_client.core import GaugeMetricFamily

    family = GaugeMetricFamily(name, meaning, labels=labels, unit=unit)
    for of, value in values:
        if isinstance(value, int | float):
            family.add_metric(of, float(value))
    return family


def _listed(payload: Payload, key: str) -> list[Mapping[str, object]]:
    found = payload.get(key)
    return [each for each in found if isinstance(each, Mapping)] if isinstance(found, list) else []


def _unix_s(time: object) -> float | None:
    return utc(time).timestamp() if isinstance(time, str) else None
