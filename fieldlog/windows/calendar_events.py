"""
What a site's calendar has told before, so that an event changes in place: the same UID, a greater SEQUENCE (RFC 5545,
section 3.8.7.4).

A window that another tide or another level moves by up to two hours is still the same event. One that can no longer be used is
told as cancelled, since a calendar that only misses it may keep it. What an older version told as cancelled with its alarms still
in it is told once more without them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from sqlite_utils import Database

from fieldlog.store import write
from fieldlog.windows.calendar import Event
from fieldlog.windows.calendar_cancelled import SAME_S, Cancelling


def in_place(
    db: Database, site_id: str, events: Sequence[Event], cancelling: Cancelling, from_at: datetime, now: datetime
) -> list[Event]:
    """
    Events with the UID, sequence and time of change that calendars know them by, cancelled ones included, in time order.

    Args:
        events: what is to be told now.
        cancelling: how what was told before and is not among them is told.
        from_at: older ones are forgotten.
        now: the time of a change that is found.
    """
    # Nearly every fetch finds nothing new and must not queue with those who write. One that does reads what was told once more
    # under the writer's lock: another fetch may have told something else meanwhile, and no two contents may bear one sequence.
    found, changed = _settled(_told(db, site_id, from_at), events, cancelling, now)
    if changed:
        with write(db):
            found, changed = _settled(_told(db, site_id, from_at), events, cancelling, now)
            _keep(db, site_id, changed, from_at)
    return sorted(found, key=lambda event: (event.low_at, event.uid))


def _settled(
    told: dict[str, Event], events: Sequence[Event], cancelling: Cancelling, now: datetime
) -> tuple[list[Event], list[Event]]:
    """What is told from now on, and what of it differs from what was told before."""
    left, found, changed = dict(told), [], []
    for event in events:
        before = _same(left, event)
        if before is None:
            kept = replace(event, changed_at=now)
            changed.append(kept)
        else:
            del left[before.uid]
            kept = before
            if before.digest != event.digest or before.is_cancelled:
                kept = replace(event, uid=before.uid, sequence=before.sequence + 1, changed_at=now)
                changed.append(kept)
        found.append(kept)
    for before in left.values():
        gone = cancelling.of(before)
        if (gone.is_cancelled, gone.lines) != (before.is_cancelled, before.lines):
            gone = replace(gone, sequence=before.sequence + 1, changed_at=now)
            changed.append(gone)
        found.append(gone)
    return found, changed


def tells(db: Database, site_id: str, from_at: datetime) -> bool:
    """Whether a site's calendar has told anything since a moment."""
    return bool(_told(db, site_id, from_at))


def _same(left: dict[str, Event], event: Event) -> Event | None:
    """The event told before that this one is: of the same id, or else the nearest within two hours."""
    if event.uid in left:
        return left[event.uid]
    near = [one for one in left.values() if abs((one.low_at - event.low_at).total_seconds()) <= SAME_S]
    return min(near, key=lambda one: abs((one.low_at - event.low_at).total_seconds()), default=None)


def _told(db: Database, site_id: str, from_at: datetime) -> dict[str, Event]:
    rows = db.query("SELECT * FROM calendar_event WHERE site_id = ? AND low_at >= ?", [site_id, int(from_at.timestamp())])
    found = {}
    for row in rows:
        kept = json.loads(row["event"])
        found[row["uid"]] = Event(
            row["uid"], datetime.fromtimestamp(row["low_at"], UTC), tuple(kept["lines"]), row["sequence"],
            datetime.fromtimestamp(row["changed_at"], UTC), kept["is_cancelled"],
        )  # fmt: skip
    return found


def _keep(db: Database, site_id: str, changed: Sequence[Event], from_at: datetime) -> None:
    db.conn.execute("DELETE FROM calendar_event WHERE site_id = ? AND low_at < ?", (site_id, int(from_at.timestamp())))
    for one in changed:
        assert one.changed_at
        text = json.dumps({"lines": one.lines, "is_cancelled": one.is_cancelled}, ensure_ascii=False)
        db.conn.execute(
            "INSERT OR REPLACE INTO calendar_event(site_id, uid, low_at, sequence, changed_at, event) VALUES (?, ?, ?, ?, ?, ?)",
            (site_id, one.uid, int(one.low_at.timestamp()), one.sequence, int(one.changed_at.timestamp()), text),
        )
