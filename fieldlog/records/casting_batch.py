"""Units cast on one day from one mix."""

from __future__ import annotations

from fieldlog.records.fields import Date, Ref, Text
from fieldlog.records.kind import Kind, Record


class CastingBatch(Record):
    label = Text("Batch", 40, required=True)
    cast_on = Date("Cast on")
    mix_note = Text("Mix", 2000)
    design_id = Ref("Design", "unit_design")


CASTING_BATCH = Kind("casting_batch", "Casting batch", CastingBatch, writers={"lead"}, plural="batches")
