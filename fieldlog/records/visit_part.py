"""A phone's part of a visit. Each phone writes its own, so one team that ends stops no other team's clock."""

from __future__ import annotations

from fieldlog.records.fields import Instant, Ref, Text
from fieldlog.records.kind import Kind, Record


class VisitPart(Record):
    of_visit_id = Ref("Visit", "visit", required=True, settled=True)
    device = Text("Phone", 64, least=1, required=True, settled=True)
    leader_id = Ref("Leader", "person", description="Who leads those with this phone")
    from_at = Instant("From", required=True, merge="earliest")
    until_at = Instant("Until", merge="latest", description="Empty while this phone's people are still on the visit")


VISIT_PART = Kind(
    "visit_part", "A phone's part of a visit", VisitPart, privacy="crew", writers={"crew", "lead"}, own=True,
    rules=[{"rule": "not-before", "field": "until_at", "other": "from_at"}],
)  # fmt: skip
