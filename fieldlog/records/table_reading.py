"""A rod surface-elevation table: pins let down to the bed in fixed directions, and how much of each stands above the arm."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known

PIN_REMARKS = {"shell": "On a shell", "hole": "In a hole", "root": "On a root or stem", "other": "Not the bed"}
"""A pin with a remark is left out of the change, and listed."""


class TableReading(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    pins = Listed(
        "Pins",
        {
            "direction": Whole("Direction", least=1, most=8, required=True),
            "pin": Whole("Pin", least=1, most=36, required=True),
            "height_mm": Number("Above the arm", unit="mm", least=0, most=2000, plausible=(10, 900), required=True),
            "remark": Choice("Remark", PIN_REMARKS),
        },
        least=1, most=288, required=True,
    )  # fmt: skip
    own_values = own_values()
    note = note()
    in_visit = in_visit()


TABLE_READING = Kind("table_reading", "Rod table reading", TableReading, writers={"crew", "lead"})
