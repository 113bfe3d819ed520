"""
Which units in which order on one low water, by team: what a visit's list follows.

The stops are one text, a line each: team, unit id, minutes after the low at which to begin (negative before it; to hundredths, of
which a phone makes the second again: a whole minute was up to half of one too early), minutes it takes, and how much it matters. What is left out has a line a reason: ids with commas between, then the reason. A plan is
replaced whole, so its lines are no records of their own.
"""

from __future__ import annotations

from fieldlog.records.fields import Instant, Text, Whole
from fieldlog.records.kind import Kind, Record


class VisitPlan(Record):
    window_id = Text("Low tide", 80, required=True)
    low_at = Instant("Time of low tide", required=True, may_lie_ahead=True)
    made_at = Instant("Made at", required=True)
    teams = Whole("Teams", least=1, most=20, required=True)
    stops = Text("Stops", 30_000, required=True)
    left_out = Text("Does not fit", 30_000)
    bring = Text("To bring", 2000)
    tides_needed = Whole("Low tides needed for all", least=1, most=200)


VISIT_PLAN = Kind("visit_plan", "Visit plan", VisitPlan, writers={"lead"})
