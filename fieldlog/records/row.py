"""A row of units; its bed level gives the row its own safe windows."""

from __future__ import annotations

from fieldlog.records.fields import Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import level, level_datum


class Row(Record):
    name = Text("Row name", 40, required=True, description="A single letter, so that unit tags can begin with it")
    order_number = Whole("Order from the sea", least=0, most=999, required=True)
    bed_level_m = level("Bed level", required=True, merge="lower")
    level_datum = level_datum()


ROW = Kind("row", "Row", Row, writers={"lead"})
