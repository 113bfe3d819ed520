"""A place that is measured again and again: a stake, a rod table, a marsh plot, a transect, a photo point."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Date, Number, Ref, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import east, north

PLOT_TYPES = {
    "stake": "Stake", "rod_table": "Rod surface-elevation table", "horizon": "Marker horizon", "quadrat": "Marsh plot", "transect": "Transect",
    "photo_point": "Photo point", "water_point": "Water station",
}  # fmt: skip


class Plot(Record):
    label = Text("Plot", 40, required=True)
    plot_type = Choice("Type", PLOT_TYPES)
    treatment = Choice("Reef side or control", {"treatment": "Behind the reef", "control": "Control, no reef"})
    set_label = Text("Read together with", 40, description="Such as stakes C: all of one name stand on one screen")
    row_id = Ref("Row", "row")
    mark_id = Ref("Mark it is measured from", "control_mark", description="A transect's distances and a level line begin here")
    read_every_days = Whole("Days between readings", unit="d", least=1, most=3650)
    area_m2 = Number("Area of the frame", unit="m²", least=0.0001, most=10_000, plausible=(0.01, 100))
    grid_points = Whole("Points read in the frame", least=1, most=1000, description="50 where it stays empty")
    azimuth_deg = Number("Direction", unit="°", least=0, most=360, description="Of a transect out to sea, or of a photo, clockwise from true north")
    camera_height_m = Number("Camera above the ground", unit="m", least=0, most=20, plausible=(0.3, 3))
    in_frame = Text("What is in the frame", 500)
    laid_on = Date("Horizon laid on")
    east_m = east()
    north_m = north()


PLOT = Kind("plot", "Plot", Plot, writers={"lead"}, rules=[{"rule": "together", "fields": ["east_m", "north_m"]}])
