"""Events and cooks as rows."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from math import floor

from noonpot.core.cook import Aim, Cook, Event, EventKind, Load
from noonpot.core.moment import iso, utc
from noonpot.store.timeline import Span, moment_of

# A detail by which an event is known as the same one when it is handed over twice.
UID = "uid"

COOKS = """SELECT cook.*,
        started.wall_s + started_tick AS started_s,
        started.stamped_wall_s + started_tick AS started_stamped_s,
        stopped.wall_s + stopped_tick AS stopped_s,
        stopped.stamped_wall_s + stopped_tick AS stopped_stamped_s,
        loaded.wall_s + load_tick AS load_s,
        loaded.stamped_wall_s + load_tick AS load_stamped_s
    FROM cook
        JOIN clock_span AS started ON started.first_tick = started_span
        LEFT JOIN clock_span AS stopped ON stopped.first_tick = stopped_span
        LEFT JOIN clock_span AS loaded ON loaded.first_tick = load_span
"""


def add_event(db: sqlite3.Connection, span: Span, event: Event) -> None:
    """Write an event; one whose ``uid`` is there already is not written again."""
    detail = dict(event.detail)
    uid = detail.pop(UID, None)
    db.execute(
        "INSERT INTO event (uid, span, tick, cooker, kind, detail) VALUES (?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (uid) DO NOTHING",
        (
            uid,
            span.first_tick,
            span.tick(event.at),
            event.cooker,
            event.kind,
            json.dumps(detail, ensure_ascii=False),
        ),
    )


def knows_event(db: sqlite3.Connection, uid: str) -> bool:
    """Whether an event with this ``uid`` was written."""
    return db.execute("SELECT 1 FROM event WHERE uid = ?", (uid,)).fetchone() is not None


def events_of(
    db: sqlite3.Connection, cooker: str, since: datetime, until: datetime
) -> Sequence[Event]:
    """The events of one cooker in time order, ``since`` <= at <= ``until``, without their uids."""
    rows = db.execute(
        "SELECT wall_s + tick AS at_s, kind, detail FROM event"
        " JOIN clock_span ON first_tick = span"
        " WHERE cooker = ? AND at_s BETWEEN ? AND ? ORDER BY at_s, id",
        (cooker, floor(since.timestamp()), floor(until.timestamp())),
    )
    return [
        Event(cooker, moment_of(at_s), EventKind(kind), json.loads(detail))
        for at_s, kind, detail in rows
    ]


def uid_ending(db: sqlite3.Connection, first: str, ending: str) -> str | None:
    """The ``uid`` that ends so after a time as long as ``first``, of those from then on."""
    row = db.execute(
        "SELECT uid FROM event WHERE uid >= ? AND substr(uid, ?) = ?",
        (first, len(first) + 1, ending),
    ).fetchone()
    return None if row is None else str(row["uid"])


def verdicts_of(db: sqlite3.Connection, cooker: str) -> Sequence[Event]:
    """All verdicts on the cooks of one cooker in time order."""
    rows = db.execute(
        "SELECT wall_s + tick AS at_s, detail FROM event JOIN clock_span ON first_tick = span"
        " WHERE cooker = ? AND kind = ? ORDER BY at_s, id",
        (cooker, EventKind.VERDICT),
    )
    return [
        Event(cooker, moment_of(row["at_s"]), EventKind.VERDICT, json.loads(row["detail"]))
        for row in rows
    ]


def aim_before(db: sqlite3.Connection, cooker: str, at: datetime) -> Event | None:
    """The last aiming of a cooker before a time."""
    row = db.execute(
        "SELECT wall_s + tick AS at_s, detail FROM event JOIN clock_span ON first_tick = span"
        " WHERE cooker = ? AND kind = ? AND at_s < ? ORDER BY at_s DESC, id DESC LIMIT 1",
        (cooker, EventKind.AIM, floor(at.timestamp())),
    ).fetchone()
    if row is None:
        return None
    return Event(cooker, moment_of(row["at_s"]), EventKind.AIM, json.loads(row["detail"]))


def save_cook(db: sqlite3.Connection, span: Span, cook: Cook) -> Cook:
    """Write a cook as it stands now; one without an id gets one.

    A time that is known stays with the clock that stamped it, also when the caller still has it as
    it was before that clock was corrected.
    """
    old = db.execute(f"{COOKS} WHERE id = ?", (cook.id,)).fetchone() if cook.id else None
    load = cook.load
    values = {
        "id": cook.id or None,
        "cooker": cook.cooker,
        "food": cook.food,
        "target_c": cook.target_c,
        **_stamp("started", span, cook.started_at, old),
        **_stamp("stopped", span, cook.stopped_at, old),
        "aim_azimuth_deg": cook.aim.azimuth_deg if cook.aim else None,
        "aim_elevation_deg": cook.aim.elevation_deg if cook.aim else None,
        **_stamp("load", span, load.at if load else None, old),
        "load_food": load.food if load else None,
        "load_mass_kg": load.mass_kg if load else None,
        "load_start_c": load.start_c if load else None,
        "load_target_c": load.target_c if load else None,
        "meal_at": iso(cook.meal_at) if cook.meal_at else None,
    }
    done = db.execute(
        "INSERT OR REPLACE INTO cook VALUES (:id, :cooker, :food, :target_c,"
        " :started_span, :started_tick, :stopped_span, :stopped_tick,"
        " :aim_azimuth_deg, :aim_elevation_deg, :load_span, :load_tick,"
        " :load_food, :load_mass_kg, :load_start_c, :load_target_c, :meal_at)",
        values,
    )
    return replace(cook, id=cook.id or done.lastrowid or 0)


def cooks(db: sqlite3.Connection) -> list[Cook]:
    """All cooks in the order of their ids; one that was taken back ended when it began,
    without a food.
    """
    begun = "WHERE food <> '' OR (stopped_span, stopped_tick) IS NOT (started_span, started_tick)"
    return [_cook(row) for row in db.execute(f"{COOKS} {begun} ORDER BY id")]


def running_cooks(db: sqlite3.Connection) -> list[Cook]:
    """The cooks that were not stopped."""
    return [_cook(row) for row in db.execute(f"{COOKS} WHERE stopped_tick IS NULL ORDER BY id")]


def last_cook(db: sqlite3.Connection, cooker: str) -> Cook | None:
    """The cook of this cooker that was begun last."""
    row = db.execute(f"{COOKS} WHERE cooker = ? ORDER BY id DESC LIMIT 1", (cooker,)).fetchone()
    return _cook(row) if row else None


def _stamp(
    name: str, span: Span, at: datetime | None, old: sqlite3.Row | None
) -> dict[str, int | None]:
    columns = f"{name}_span", f"{name}_tick"
    if at is None:
        return dict.fromkeys(columns)
    known: list[int] = []
    if old and old[f"{name}_tick"] is not None:
        by_now_s = span.wall_s + old[f"{name}_tick"]  # as ``recall`` has told it
        known = [old[f"{name}_s"], old[f"{name}_stamped_s"], by_now_s]
    if old and floor(at.timestamp()) in known:
        return {column: old[column] for column in columns}
    return dict(zip(columns, (span.first_tick, span.tick(at)), strict=True))


def _cook(row: sqlite3.Row) -> Cook:
    aim = load = meal = None
    if "meal_at" in row.keys():  # noqa: SIM118  not in a file that no new daemon has opened yet
        meal = row["meal_at"]
    if row["aim_azimuth_deg"] is not None:
        aim = Aim(row["aim_azimuth_deg"], row["aim_elevation_deg"])
    if row["load_s"] is not None:
        load = Load(
            moment_of(row["load_s"]),
            row["load_food"],
            row["load_mass_kg"],
            row["load_start_c"],
            row["load_target_c"],
        )
    return Cook(
        cooker=row["cooker"],
        started_at=moment_of(row["started_s"]),
        food=row["food"],
        target_c=row["target_c"],
        id=row["id"],
        aim=aim,
        load=load,
        stopped_at=moment_of(row["stopped_s"]) if row["stopped_s"] is not None else None,
        meal_at=utc(meal) if meal is not None else None,
    )
