"""Days on which a site is closed or to be entered with care: nesting, spawning, a permit's own dates."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Text, YesNo
from fieldlog.records.kind import Kind, Record

CLOSURES = {"closed": "Closed", "care": "Go with care"}


class Closure(Record):
    name = Text("What for", 80, required=True, description="Such as tern nesting, herring spawn, or the permit's dates")
    from_day = Date("First day", required=True)
    to_day = Date("Last day", required=True)
    every_year = YesNo("Every year", description="Yes: the same days every year. No: this year only")
    closure = Choice("What it means", CLOSURES, required=True)
    source = Text("Who says so", 200, description="Permit, agency or rule, with its date")


CLOSURE = Kind("closure", "Closure", Closure, writers={"lead"})
