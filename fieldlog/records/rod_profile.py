"""A profile with two rods and the horizon: step by step from a mark, how far out and how much down or up."""

from __future__ import annotations

from fieldlog.records.fields import Number
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed
from fieldlog.records.on_visit import in_visit
from fieldlog.records.places import level, level_datum
from fieldlog.records.reading_fields import note, own_values, plot_ref, read_at
from fieldlog.records.times import time_known


class RodProfile(Record):
    plot_id = plot_ref()
    read_at = read_at()
    time_known = time_known()
    start_level_m = level("Level where it begins", required=True)
    end_level_m = level("Known level where it ends")
    level_datum = level_datum(required=True)
    profile_steps = Listed(
        "Steps",
        {
            "out_m": Number("Out", unit="m", least=0.05, most=20, plausible=(0.5, 5), required=True),
            "up_mm": Number("Up", unit="mm", least=-3000, most=3000, plausible=(-1500, 1500), required=True, description="Down is negative"),
        },
        least=1, most=500, required=True,
    )  # fmt: skip
    own_values = own_values()
    note = note()
    in_visit = in_visit()


ROD_PROFILE = Kind("rod_profile", "Two-rod profile", RodProfile, writers={"crew", "lead"})
