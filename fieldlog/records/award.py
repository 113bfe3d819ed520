"""An award or a grant that hours on the shore may be counted to."""

from __future__ import annotations

from fieldlog.records.fields import Date, Text, YesNo
from fieldlog.records.kind import Kind, Record


class Award(Record):
    name = Text("Name", 80, required=True, description="As your grants office calls it")
    award_number = Text("Award number", 60)
    funder = Text("Funder", 120)
    federal = YesNo("Federal money", description="Yes: the rules of 2 CFR 200.306 are printed on its sheet")
    from_day = Date("First day", description="Hours before it do not count to this award")
    to_day = Date("Last day")


AWARD = Kind(
    "award", "Award", Award, privacy="crew", writers={"lead"},
    rules=[{"rule": "not-before", "field": "to_day", "other": "from_day"}],
)  # fmt: skip
