"""A reef unit in its slot of a row."""

from __future__ import annotations

from fieldlog.records.fields import Ref, Tag, Whole, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import east, level, level_datum, north


class Unit(Record):
    tag = Tag("Tag", 20, least=1, required=True, made_here="tag_made_here", description="Row letter, slot, check digit; or the tag already on the unit")
    tag_made_here = YesNo("Tag with a check digit", description="No for a tag already on the unit, such as 17 or A-3")
    design_id = Ref("Design", "unit_design")
    batch_id = Ref("Batch", "casting_batch")
    row_id = Ref("Row", "row", required=True)
    slot_number = Whole("Slot", least=0, most=999, required=True)
    planned_east_m = east("Planned east")
    planned_north_m = north("Planned north")
    bed_level_m = level("Bed level", merge="lower", description="Only if it differs from its row's")
    level_datum = level_datum()


UNIT = Kind(
    "unit",
    "Unit",
    Unit,
    writers={"lead"},
    rules=[{"rule": "together", "fields": ["planned_east_m", "planned_north_m"]}],
)
