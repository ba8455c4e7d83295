"""Where the alarms stand, and the outbox of alerts, as rows."""

import sqlite3
from collections.abc import Sequence
from datetime import datetime
from math import floor

from noonpot.core.alarms import AlarmRecord, AlarmState
from noonpot.core.alert import Alert, Priority
from noonpot.core.moment import Moment
from noonpot.store.timeline import Span, moment_of, span_of

ALARMS = """SELECT alarm.*, since.wall_s + since_tick AS since_s,
        since.stamped_wall_s + since_tick AS since_stamped_s, since.trusted AS since_trusted,
        written.*
    FROM alarm
        JOIN clock_span AS since ON since.first_tick = since_span
        JOIN clock_span AS written ON written.first_tick = written_span
"""


def save_record(db: sqlite3.Connection, span: Span, moment: Moment, record: AlarmRecord) -> None:
    """Write where an alarm stands now, in place of where it stood."""
    since = span.first_tick, span.tick(record.since.at)
    old = db.execute(
        f"{ALARMS} WHERE cooker = ? AND alarm = ?", (record.cooker, record.alarm)
    ).fetchone()
    known = (old["since_s"], old["since_stamped_s"]) if old else ()
    if floor(record.since.at.timestamp()) in known:
        since = old["since_span"], old["since_tick"]  # stays with the clock that stamped it
    db.execute(
        "INSERT OR REPLACE INTO alarm (cooker, alarm, state, since_span, since_tick, since_mono_s,"
        " occurrence, subject, text, priority, rising_s, falling_s, told_s, until_s,"
        " tellings, beneath, latched, written_span, written_mono_s)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            record.cooker,
            record.alarm,
            record.state,
            *since,
            record.since.mono_s,
            record.occurrence,
            record.subject,
            record.text,
            record.priority,
            record.rising_s,
            record.falling_s,
            record.told_s,
            record.until_s,
            record.tellings,
            record.beneath,
            record.latched,
            span.first_tick,
            moment.mono_s,
        ),
    )


def records(db: sqlite3.Connection, boot: str, now: Moment) -> list[AlarmRecord]:
    """Where every alarm stands, its timers on the monotonic clock of ``now``.

    Across a boot only the wall clock tells how long ago something was, and it may be wrong: so
    nothing that was in the past comes to lie in the future, and no shelving grows longer.
    """
    return [_record(row, boot, now) for row in db.execute(f"{ALARMS} ORDER BY cooker, alarm")]


def _record(row: sqlite3.Row, boot: str, now: Moment) -> AlarmRecord:
    span = span_of(row)
    same = span.boot == boot
    shift_s = span.shift_s(boot, now)

    def past(mono_s: float) -> float:
        return mono_s if same else min(mono_s + shift_s, now.mono_s)

    def timer(name: str) -> float | None:
        return None if row[name] is None else past(row[name])

    until_s = row["until_s"]
    if until_s is not None and not same:
        until_s = min(until_s + shift_s, now.mono_s + until_s - row["written_mono_s"])
    return AlarmRecord(
        cooker=row["cooker"],
        alarm=row["alarm"],
        state=AlarmState(row["state"]),
        since=Moment(
            moment_of(row["since_s"]), past(row["since_mono_s"]), bool(row["since_trusted"])
        ),
        occurrence=row["occurrence"],
        subject=row["subject"],
        text=row["text"],
        priority=Priority(row["priority"]),
        rising_s=timer("rising_s"),
        falling_s=timer("falling_s"),
        told_s=timer("told_s"),
        until_s=until_s,
        tellings=row["tellings"],
        beneath=AlarmState(row["beneath"]),
        latched=bool(row["latched"]),
    )


def add_alert(db: sqlite3.Connection, span: Span, alert: Alert) -> None:
    """Put an alert into the outbox; one whose ``id`` is there already is not put in again."""
    db.execute(
        "INSERT INTO alert"
        " (id, span, tick, expires_tick, cooker, alarm, state, priority, text)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING",
        (
            alert.id,
            span.first_tick,
            span.tick(alert.at),
            span.tick(alert.expires_at),
            alert.cooker,
            alert.alarm,
            alert.state,
            alert.priority,
            alert.text,
        ),
    )


def first_told(
    db: sqlite3.Connection, cooker: str, alarm: str, since: datetime, until: datetime
) -> datetime | None:
    """When an alarm of a cooker was first to be told between two times."""
    row = db.execute(
        "SELECT min(wall_s + tick) FROM alert JOIN clock_span ON first_tick = span"
        " WHERE cooker = ? AND alarm = ? AND wall_s + tick BETWEEN ? AND ?",
        (cooker, alarm, floor(since.timestamp()), floor(until.timestamp())),
    ).fetchone()
    return None if row[0] is None else moment_of(row[0])


def unsent(
    db: sqlite3.Connection, channel: str, limit: int, after: int, boot: str
) -> Sequence[tuple[int, Alert]]:
    """The oldest unsettled alerts of a channel with their numbers, of those numbered ``after``.

    Those of this boot are told by the clock as it is now: one that jumped makes none too old.
    """
    rows = db.execute(
        "SELECT alert.*, CASE WHEN boot = ? THEN (SELECT wall_s FROM clock_span"
        " ORDER BY first_tick DESC LIMIT 1) ELSE wall_s END AS wall_s"
        " FROM alert JOIN clock_span ON first_tick = span"
        " WHERE seq > ? AND NOT EXISTS"
        " (SELECT 1 FROM settlement WHERE channel = ? AND alert = seq) ORDER BY seq LIMIT ?",
        (boot, after, channel, limit),
    )
    return [(row["seq"], _alert(row)) for row in rows]


def settle(db: sqlite3.Connection, channel: str, alert_id: str, outcome: str, at: str) -> None:
    """Note the outcome of an alert on a channel; the first outcome stays."""
    db.execute(
        "INSERT INTO settlement (channel, alert, outcome, at)"
        " VALUES (?, (SELECT seq FROM alert WHERE id = ?), ?, ?)"
        " ON CONFLICT (channel, alert) DO NOTHING",
        (channel, alert_id, outcome, at),
    )


def _alert(row: sqlite3.Row) -> Alert:
    return Alert(
        id=row["id"],
        at=moment_of(row["wall_s"] + row["tick"]),
        expires_at=moment_of(row["wall_s"] + row["expires_tick"]),
        cooker=row["cooker"],
        alarm=row["alarm"],
        state=row["state"],
        priority=Priority(row["priority"]),
        text=row["text"],
    )
