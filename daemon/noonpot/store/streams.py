"""The rows that go to a time-series server, and the number that puts those of a kind in order."""

EVENTS = "event"
FORECASTS = "forecast"
READINGS = "reading"

# The number of an event is its id. That of a reading is its id too, the tick and below it the
# series; that of a forecast is the tick and below it the cook.
PER_TICK = {FORECASTS: 1 << 20, READINGS: 1 << 10}
END = 1 << 52

# All take the same bounds: ``after`` and ``upto`` are such numbers; ``untrusted`` is the tick from
# which on the time is not known yet, ``end`` (END) if there is none. The key of a forecast begins
# with its cook: those of cooks that were over a day before are not even looked at.
STREAMS = {
    EVENTS: """SELECT id, cooker, kind, detail, span, tick FROM event
        WHERE id > :after AND id <= :upto AND (:untrusted = :end OR id < coalesce(
            (SELECT min(id) FROM event WHERE id > :after AND span >= :untrusted), :end))
        ORDER BY id LIMIT :limit""",
    FORECASTS: """SELECT tick << 20 | forecast.cook AS id, forecast.cook AS cook, cooker, span,
            tick, forecast.target_c AS target_c, p_done, p10_s, p50_s, p90_s
        FROM forecast JOIN cook ON cook.id = forecast.cook
        WHERE forecast.cook >= (SELECT coalesce(min(id), :end) FROM cook
                WHERE stopped_tick IS NULL OR stopped_tick >= (:after >> 20) - 86400)
            AND tick << 20 | forecast.cook > :after AND tick << 20 | forecast.cook <= :upto
            AND tick < :untrusted AND span < :untrusted
        ORDER BY id LIMIT :limit""",
    READINGS: """SELECT reading.id AS id, series.id AS series, probe, role, cooker, value
        FROM reading CROSS JOIN series ON series.id = reading.id & 1023
        WHERE reading.id > :after AND reading.id <= :upto AND reading.id < :untrusted << 10
        ORDER BY reading.id LIMIT :limit""",
}


def first_of(stream: str, tick: int) -> int:
    """The least number that a row of a tick can have."""
    return tick * PER_TICK[stream]


def tick_of(stream: str, number: int) -> int:
    """The tick of the row with this number."""
    return number // PER_TICK[stream]
