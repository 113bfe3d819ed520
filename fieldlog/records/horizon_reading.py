"""A marker horizon: how much sediment lies on a layer that was put down earlier, from cores of which each is read a few times."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known

HORIZON_STATES = {"found": "Found", "at_surface": "Seen at the surface", "not_found": "Not found"}
"""Not found is missing, not nothing: a horizon that was washed away cannot show how much is lost."""


class HorizonReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    horizon_state = Choice("Horizon", HORIZON_STATES, required=True)
    cores = Listed(
        "Cores",
        {
            "core": Whole("Core", least=1, most=20, required=True),
            "depth_mm": Number("Above the horizon", unit="mm", least=0, most=2000, plausible=(0, 200), required=True),
        },
        most=100,
    )
    own_values = own_values()
    note = note()
    in_visit = in_visit()


HORIZON_READING = Kind(
    "horizon_reading", "Marker horizon reading", HorizonReading, writers={"crew", "lead"},
    rules=[
        {"rule": "needed-when", "field": "cores", "other": "horizon_state", "is": ["found"]},
        {"rule": "absent-when", "field": "cores", "other": "horizon_state", "is": ["at_surface", "not_found"]},
    ],
)  # fmt: skip
