"""A place that is measured again and again: a stake, a quadrat, a transect, a photo point."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Ref, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import east, north


class Plot(Record):
    label = Text("Plot", 40, required=True)
    plot_type = Choice(
        "Type", {"stake": "Stake", "quadrat": "Quadrat", "transect": "Transect", "photo_point": "Photo point"}
    )
    treatment = Choice(
        "Reef side or control", {"treatment": "Behind the reef", "control": "Control, no reef"}
    )
    row_id = Ref("Row", "row")
    east_m = east()
    north_m = north()


PLOT = Kind(
    "plot", "Plot", Plot, writers={"lead"}, rules=[{"rule": "together", "fields": ["east_m", "north_m"]}]
)
