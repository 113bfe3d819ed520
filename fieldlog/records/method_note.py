"""What changed in how something is measured or written down, and from which day on: without it, numbers of two years are not one series."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Text
from fieldlog.records.kind import Kind, Record

METHODS = {
    "unit_check": "Unit checks", "position_fix": "Positions", "sighting": "Sightings", "photo": "Photos", "visit": "Visits and water levels",
    "sign_in": "Sign-ins and hours", "readings": "Readings at plots", "water_reading": "Water readings", "other": "Something else",
}  # fmt: skip


class MethodNote(Record):
    about = Choice("Kind of record", METHODS, required=True)
    from_day = Date("Since", required=True, description="The first day on which it was done this way")
    note = Text("What changed, and why", 2000, least=3, required=True)


METHOD_NOTE = Kind("method_note", "Method note", MethodNote, writers={"lead"})
