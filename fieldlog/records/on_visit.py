"""
Which visit a record belongs to, the same way in every kind whose records are made on one.

It is the visit that the record's first entry names beside its fields, until a lead says another. The column `visit_id` of a record's
row says the one that counts, on the server and on the phone, so nothing that asks for a record's visit need know of this field.
"""

from __future__ import annotations

from fieldlog.records.fields import Ref

IN_VISIT = "in_visit"


def in_visit() -> Ref:
    """Written by leads alone, where one visit is parted in two; emptied, the record is again of the visit it was made on."""
    return Ref("Moved to visit", "visit", crew="leads", description="Empty: the visit it was made on")
