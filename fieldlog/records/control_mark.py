"""A fixed mark on the site grid, from which tapes are read."""

from __future__ import annotations

from fieldlog.records.fields import Number, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import east, level, level_datum, north


class ControlMark(Record):
    label = Text("Mark", 40, required=True)
    east_m = east(required=True)
    north_m = north(required=True)
    level_m = level("Level")
    level_datum = level_datum()
    sigma_m = Number(
        "Uncertainty, each direction", unit="m", least=0, most=10, plausible=(0, 0.1), description="Two of three readings are this close"
    )


CONTROL_MARK = Kind("control_mark", "Control mark", ControlMark, writers={"lead"}, plural="marks")
