"""Heads counted aloud on the shore, beside how many were signed in then: at arrival, at a move, at turn-back, at the vehicles."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Text, Whole
from fieldlog.records.kind import Kind, Record

CALLED = {"arrival": "Arrival", "move": "Moving on", "turn_back": "Turning back", "vehicles": "At the vehicles"}


class HeadCount(Record):
    called = Choice("Called at", CALLED, required=True)
    counted = Whole("Heads counted", least=0, most=1000, required=True)
    signed_in = Whole("Out, as this phone knew", least=0, most=10_000, description="Whom this phone had signed in and not out")
    counted_at = Instant("Counted at", required=True)
    note = Text("Who is missing, and what is done", 300)


HEAD_COUNT = Kind("head_count", "Head count", HeadCount, privacy="crew", writers={"crew", "desk", "lead"})
