"""What happened to a fixed place, after which its readings begin a new piece: nothing is compared across it."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import plot_ref
from fieldlog.records.times import time_known

PLOT_EVENTS = {
    "set": "Set up", "moved": "Moved", "replaced": "Replaced with a new one", "new_datum": "Another datum from now on", "lost": "Lost", "retired": "No longer read",
}  # fmt: skip
BEGINS_ANEW = ("set", "moved", "replaced", "new_datum")
"""Readings after one of these are a piece of their own."""


class PlotEvent(Record):
    plot_id = plot_ref()
    event = Choice("What happened", PLOT_EVENTS, required=True)
    event_at = Instant("When", required=True)
    time_known = time_known()
    note = Text("Note", 2000)
    in_visit = in_visit()


PLOT_EVENT = Kind("plot_event", "Plot event", PlotEvent, writers={"crew", "lead"})
