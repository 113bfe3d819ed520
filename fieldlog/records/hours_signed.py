"""
A lead's word that somebody's hours of some days are right. It says the sum that was signed: where the hours are others by now, it
no longer holds, and the ledger asks for it again.
"""

from __future__ import annotations

from fieldlog.records.fields import Date, Instant, Number, Ref
from fieldlog.records.kind import Kind, Record


class HoursSigned(Record):
    person_id = Ref("Person", "person", required=True)
    from_day = Date("First day", required=True)
    to_day = Date("Last day", required=True)
    signed_h = Number("Hours signed for", unit="h", least=0, most=9000, required=True)
    signed_mi = Number("Miles signed for", unit="mi", least=0, most=500_000)
    signed_by_id = Ref("Signed by", "person")
    signed_at = Instant("Signed at", required=True)


HOURS_SIGNED = Kind(
    "hours_signed", "Hours signed", HoursSigned, privacy="crew", writers={"lead"}, plural="hours_signed",
    rules=[{"rule": "not-before", "field": "to_day", "other": "from_day"}],
)  # fmt: skip
