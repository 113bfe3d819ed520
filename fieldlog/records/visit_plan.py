"""
Which units in which order on one low water, by team: what a visit's list follows. A plan is replaced whole.

Apps up to 0.3.0 read and write the stops as a text, a line each: team, id, minutes after the low at which to begin, minutes it takes,
how much it matters; and what is left out as a line a reason: ids with commas between, then the reason. The texts are written beside
the lists, which are further entries of the same record, so that none of them has to hold both. Whoever reads a plan reads its lists,
and the texts where it has none (`stops_in_text`, `left_out_in_text`; `static/views/plan.js` does the same).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fieldlog.records.fields import Choice, Instant, Number, Ref, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed

_STOP = re.compile(r"([0-9]{1,2}) ([A-Za-z0-9-]{1,64}) (-?[0-9]{1,4}(?:\.[0-9]+)?) ([0-9]{1,4}(?:\.[0-9]+)?)(?: ([0-9]{1,9}(?:\.[0-9]+)?(?:e-?[0-9]{1,2})?))?")
"""A line of `stops`: team, unit or plot, minutes after low, minutes it takes, weight."""


def stops_in_text(row: Mapping[str, Any]) -> list[dict[str, Any]] | None:
    """The items of `planned_stops` that a plan of an app up to 0.3.0 has as text, which does not say unit or plot; other lines are left out."""
    if row.get("stops") is None:
        return None
    found = (_STOP.fullmatch(line) for line in str(row["stops"]).split("\n"))
    return [
        {
            "team": int(stop[1]), "stop_id": stop[2], "after_low_min": float(stop[3]), "takes_min": float(stop[4]),
            "weight": float(stop[5] or 1),
        }
        for stop in found if stop is not None
    ]  # fmt: skip


def left_out_in_text(row: Mapping[str, Any]) -> list[dict[str, Any]] | None:
    """The same of `left_out_stops`."""
    if row.get("left_out") is None:
        return None
    lines = [line for line in str(row["left_out"]).split("\n") if line]
    return [
        {"stop_id": stop_id, "why": line[line.find(" ") + 1 :]} for line in lines for stop_id in line.split(" ")[0].split(",")
    ]  # fmt: skip


def _stop_kind() -> Choice:
    return Choice("Unit or plot", {"unit": "Unit", "plot": "Plot"})


class VisitPlan(Record):
    window_id = Text("Low tide", 80, required=True)
    low_at = Instant("Time of low tide", required=True, may_lie_ahead=True)
    made_at = Instant("Made at", required=True)
    teams = Whole("Teams", least=1, most=20, required=True)
    planned_stops = Listed(
        "Stops",
        {
            "team": Whole("Team", least=1, most=20, required=True),
            "stop_kind": _stop_kind(),
            "stop_id": Ref("Stop", "stop_kind", required=True),
            # To hundredths, of which a phone makes the second again: a whole minute was up to half of one too early.
            "after_low_min": Number("Begins after the low", unit="min", least=-1440, most=1440, required=True, description="Negative: before it"),
            "takes_min": Number("Takes", unit="min", least=0, most=1440, required=True),
            "weight": Number("Matters", least=0, most=1000, description="A plain check is 1"),
        },
        most=1000,
        before=stops_in_text,
        description="In walking order, team by team",
    )
    left_out_stops = Listed(
        "Does not fit",
        {"stop_kind": _stop_kind(), "stop_id": Ref("Stop", "stop_kind", required=True), "why": Text("Why", 200)},
        most=5000,
        before=left_out_in_text,
    )
    stops = Text("Stops, for older apps", 30_000, required=True)
    left_out = Text("Does not fit, for older apps", 30_000)
    bring = Text("To bring", 2000)
    tides_needed = Whole("Low tides needed for all", least=1, most=200)


VISIT_PLAN = Kind("visit_plan", "Visit plan", VisitPlan, writers={"lead"})
