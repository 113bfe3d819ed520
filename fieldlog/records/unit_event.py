"""What was done to a unit. Placed, reset, righted and replaced start a new zero for its movement."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Ref, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.times import time_known

EVENTS = {
    "placed": "Placed", "reset": "Put back in place", "righted": "Set upright",
    "replaced": "Replaced by another",
    "cleaned": "Cleaned", "retired": "Taken out of use",
}  # fmt: skip


class UnitEvent(Record):
    unit_id = Ref("Unit", "unit", required=True)
    event = Choice("What was done", EVENTS, required=True)
    event_at = Instant("Done at", required=True)
    time_known = time_known()
    note = Text("Note", 2000)
    in_visit = in_visit()


UNIT_EVENT = Kind("unit_event", "Work on a unit", UnitEvent, writers={"crew", "lead"}, plural="events")
