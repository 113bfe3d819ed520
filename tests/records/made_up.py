"""A made-up kind with a field of every type; its form stands in tests/vectors/records_values.json too."""

from __future__ import annotations

from fieldlog.records.fields import (
    Choice,
    Date,
    FlagId,
    Instant,
    Number,
    Ref,
    Sha256,
    Tag,
    Text,
    Whole,
    YesNo,
    Zone,
)
from fieldlog.records.kind import Kind, Record


class Barrel(Record):
    label = Text("Label", 10, required=True)
    reason = Text("Reason", 500, least=3)
    tag = Tag("Tag", 20)
    unit_tag = Tag("Unit tag", 20, made_here="tag_made_here")
    tag_made_here = YesNo("Made here", default=True)
    depth_mm = Number("Depth", unit="mm", least=0, most=3000, plausible=(10, 1500), required=True, last=True)
    lean_deg = Number("Lean", unit="°", least=-45, most=180)
    ratio = Number("Ratio", least=0, most=1e21)
    staves = Whole("Staves", least=1, most=40, plausible=(8, 30))
    grade = Whole("Grade", least=0, most=2, labels={"0": "Sound", "1": "Worn", "2": "Broken"})
    leaking = YesNo("Leaking")
    hoop = Choice("Hoop", {"iron": "Iron", "none": "None, or fallen off"})
    other_hoop = Choice("Other hoop", {"iron": "Iron", "none": "None, or fallen off"})
    filled_at = Instant("Filled")
    emptied_at = Instant("Emptied")
    made_on = Date("Made on")
    beside_id = Ref("Beside", "barrel")
    seal = Sha256("Seal")
    flag_id = FlagId("Flag")
    zone = Zone("Zone")


BARREL = Kind(
    "barrel", "Barrel", Barrel, writers={"crew", "lead"},
    rules=[
        {"rule": "not-before", "field": "emptied_at", "other": "filled_at"},
        {"rule": "absent-when", "field": "staves", "other": "hoop", "is": ["none"]},
        {"rule": "needed-when", "field": "grade", "other": "hoop", "is": ["iron"]},
        {"rule": "any-of", "fields": ["beside_id", "made_on"]},
        {"rule": "together", "fields": ["tag", "zone"]},
    ],
)  # fmt: skip
