"""Made-up kinds: a field of every type, and lists; their forms stand in tests/vectors/records_values.json and records_lists.json too."""

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
from fieldlog.records.listed import Listed


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


class Catch(Record):
    heights = Listed("Shell heights", {"height_mm": Number("Height", unit="mm", least=1, most=400, plausible=(5, 250))}, least=2, most=12, last=True)
    counts = Listed("Counts", {"count": Whole("Count", least=0, most=900)}, most=3)
    hits = Listed("Point hits", {"hit": Choice("Hit", {"mud": "Mud", "shell": "Loose shell"})}, most=20)
    hauls = Listed(
        "Hauls",
        {
            "net": Whole("Net", least=1, most=20, required=True),
            "barrel_id": Ref("Barrel", "barrel"),
            "depth_m": Number("Depth", unit="m", least=-5, most=5, plausible=(-1, 3)),
            "bed": Choice("Bed", {"mud": "Mud", "sand": "Sand"}),
            "hauled_on": Date("Hauled on"),
            "torn": YesNo("Torn"),
            "note": Text("Note", 20),
        },
        most=4,
    )
    label = Text("Label", 10)


CATCH = Kind("catch", "Catch", Catch, writers={"crew", "lead"}, rules=[{"rule": "any-of", "fields": ["heights", "hauls"]}])
"""Lists of bare values and of small records."""
