"""A lead's word on a flag, with the reason."""

from __future__ import annotations

from fieldlog.records.fields import Choice, FlagId, Instant, Text
from fieldlog.records.kind import Kind, Record


class FlagDecision(Record):
    flag_id = FlagId("Flag", required=True)
    decision = Choice(
        "Decision",
        {"settled": "Settled", "accepted": "Accepted as it is", "reopened": "Opened again"},
        required=True,
    )
    reason = Text("Reason", 500, least=3, required=True)
    decided_at = Instant("Decided at", required=True)


FLAG_DECISION = Kind("flag_decision", "Decision on a flag", FlagDecision, writers={"lead"})
