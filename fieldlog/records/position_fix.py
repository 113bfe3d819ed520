"""
A reading of where something is. The raw reading is the record; an adjusted position is derived from it, never
stored.

A phone's own position is good to several metres: it finds a unit again and never says that one has moved.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Number, Ref, Text
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.places import east, latitude, longitude, north, radius
from fieldlog.records.times import time_known

METHODS = {
    "phone_gnss": "A phone's position",
    "rtk": "Survey receiver",
    "typed": "Typed in",
    "tapes": "Tapes from marks",
}


def _mark(number: int) -> Ref:
    return Ref(f"Mark {number}", "control_mark")


def _range(number: int) -> Number:
    return Number(f"Tape {number}", unit="m", least=0, most=1000, plausible=(0.1, 100))


class PositionFix(Record):
    of_kind = Choice(
        "Position of", {"unit": "Unit", "plot": "Plot", "control_mark": "Control mark"}, required=True
    )
    of_id = Ref("Which one", "of_kind", required=True)
    fixed_at = Instant("Read at", required=True)
    time_known = time_known()
    method = Choice("Method", METHODS, required=True)
    lat_deg = latitude()
    lon_deg = longitude()
    accuracy_m = radius("Accuracy", plausible=(0, 100), description="How far off it may be, from the phone")
    platform = Text("Read by", 120, description="Phone or receiver")
    east_m = east()
    north_m = north()
    sigma_m = Number(
        "Uncertainty, each direction", unit="m", least=0, most=100, plausible=(0, 1), description="Two of three readings are this close"
    )
    mark_1_id = _mark(1)
    range_1_m = _range(1)
    mark_2_id = _mark(2)
    range_2_m = _range(2)
    mark_3_id = _mark(3)
    range_3_m = _range(3)
    mark_4_id = _mark(4)
    range_4_m = _range(4)
    tape_sigma_m = Number(
        "Uncertainty of a tape", unit="m", least=0, most=10, plausible=(0, 0.2), description="Two of three readings are this close"
    )
    note = Text("Note", 2000)
    in_visit = in_visit()


_TAPES = [
    {"rule": "together", "fields": [f"mark_{number}_id", f"range_{number}_m"]} for number in (1, 2, 3, 4)
]

POSITION_FIX = Kind(
    "position_fix", "Position", PositionFix, writers={"crew", "lead"}, plural="positions",
    rules=[
        {"rule": "together", "fields": ["lat_deg", "lon_deg"]},
        {"rule": "together", "fields": ["east_m", "north_m"]},
        *_TAPES,
        {"rule": "needed-when", "field": "lat_deg", "other": "method", "is": ["phone_gnss"]},
        {"rule": "needed-when", "field": "east_m", "other": "method", "is": ["typed"]},
        {"rule": "needed-when", "field": "range_1_m", "other": "method", "is": ["tapes"]},
        {"rule": "needed-when", "field": "range_2_m", "other": "method", "is": ["tapes"]},
    ],
)  # fmt: skip
