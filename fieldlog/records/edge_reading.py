"""Where a named line of the shore crosses a fixed transect: seaward of its mark is plus."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.places import east, north
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known

SHORE_LINES = {"marsh_edge": "Marsh edge", "high_water": "High-water line", "bank_toe": "Toe of the bank"}
"""Two of these are never in one rate."""


class EdgeReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    shore_line = Choice("Line", SHORE_LINES, required=True)
    distance_m = Number("From the transect's mark", unit="m", least=-1000, most=1000, plausible=(-200, 200), last=True, description="Plus is seaward")
    east_m = east("East, where it was a point")
    north_m = north("North, where it was a point")
    uncertainty_m = Number("Known to within", unit="m", least=0, most=100, plausible=(0.01, 10), last=True, description="In 19 of 20 readings")
    own_values = own_values()
    note = note()
    in_visit = in_visit()


EDGE_READING = Kind(
    "edge_reading", "Edge reading", EdgeReading, writers={"crew", "lead"},
    rules=[{"rule": "any-of", "fields": ["distance_m", "east_m"]}, {"rule": "together", "fields": ["east_m", "north_m"]}],
)  # fmt: skip
