"""Miles that somebody drove for the site. Typed by the person or a lead; no addresses."""

from __future__ import annotations

from fieldlog.records.fields import Date, Number, Ref, Text
from fieldlog.records.kind import Kind, Record


class Mileage(Record):
    person_id = Ref("Person", "person", required=True)
    driven_on = Date("Day", required=True)
    driven_mi = Number("Miles", unit="mi", least=0, most=3000, plausible=(0.5, 400), required=True, description="There and back")
    trip = Text("What for", 120, description="Such as units to the shore. No addresses here")


MILEAGE = Kind(
    "mileage", "Miles driven", Mileage, privacy="crew", writers={"crew", "desk", "lead"}, own=True, plural="mileages",
)  # fmt: skip
