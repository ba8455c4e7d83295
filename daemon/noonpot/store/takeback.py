"""Taking back what was said a moment ago: the event becomes a note, and its cook is told anew."""

import json
import sqlite3
from dataclasses import replace

from noonpot.core.cook import Cook, Event, EventKind, told_anew
from noonpot.core.detail import detail_text
from noonpot.core.moment import Moment
from noonpot.errors import CookError
from noonpot.store.cooks import add_event, events_of, last_cook, save_cook
from noonpot.store.timeline import Span, moment_of

UNDOABLE_S = 60.0
"""For so long a slip of the finger can be taken back; later it is part of the record [s]."""
TAKEN = "taken back: "
SLACK_S = 2.0  # times in the store are whole seconds
UNDOABLE = (
    EventKind.START,
    EventKind.AIM,
    EventKind.LOAD,
    EventKind.UNLOAD,
    EventKind.LID,
    EventKind.NOTE,
    EventKind.SPOT,
    EventKind.STOP,
)


def take_back(db: sqlite3.Connection, span: Span, moment: Moment, undo: Event) -> Cook | None:
    """Take back the event whose ``uid`` is the ``letter`` of this one. Returns the cook as it is
    without it, None when it was no part of one.

    Raises CookError when there is no such event, when it was too long ago, and when what came after
    would not fit without it.
    """
    letter = undo.detail.get("letter", "")
    row = db.execute("SELECT * FROM event WHERE uid = ?", (letter,)).fetchone()
    if row is None or row["cooker"] != undo.cooker:
        raise CookError(f"{undo.cooker}: there is nothing to take back under {letter[:64]!r}")
    kind, detail = EventKind(row["kind"]), json.loads(row["detail"])
    if detail.get("text", "").startswith(TAKEN):
        raise CookError(f"{undo.cooker}: that is taken back already")
    if kind not in UNDOABLE:
        raise CookError(f"{undo.cooker}: {kind} cannot be taken back")
    if span.tick_of(moment.mono_s) - row["tick"] > UNDOABLE_S + SLACK_S:
        raise CookError(
            f"{undo.cooker}: {kind} was more than {UNDOABLE_S:.0f} s ago; say what is so now"
        )
    said = f"{TAKEN}{kind} {detail_text(detail)}".strip()
    db.execute(
        "UPDATE event SET kind = ?, detail = ? WHERE id = ?",
        (EventKind.NOTE, json.dumps({"text": said}, ensure_ascii=False), row["id"]),
    )
    add_event(db, span, undo)
    cook = last_cook(db, undo.cooker)
    said_at = moment_of(span.wall_s + row["tick"])
    if cook is None or said_at < cook.started_at:
        if kind is EventKind.STOP:
            raise CookError(f"{undo.cooker}: another cook has begun since; stop that one first")
        return None
    told = told_anew(cook, events_of(db, undo.cooker, cook.started_at, moment.at))
    return save_cook(db, span, replace(told, id=cook.id))
