"""An animal or plant that was seen, or looked for and not found: the second is as much worth as the first."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Ref, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.times import time_known

LIFE_STAGES = {
    "egg": "Egg or spawn", "larva": "Larva", "juvenile": "Young", "adult": "Adult", "seedling": "Seedling",
    "flowering": "In flower", "dead": "Dead or shell only",
}  # fmt: skip


class Sighting(Record):
    species_id = Ref("Species", "species")
    taxon = Text("What it was", 120, description="In your own words, where it is not in the list")
    found = Choice("Found", {"seen": "Seen", "looked_for_none": "Looked for, none"}, required=True)
    count = Whole("Count", least=0, most=1_000_000, plausible=(1, 10_000))
    life_stage = Choice("Life stage", LIFE_STAGES)
    behaviour = Text("What it did", 200)
    sureness = Choice("How sure", {"sure": "Sure", "likely": "Likely", "unsure": "Unsure"})
    near_unit_id = Ref("Near unit", "unit")
    seen_at = Instant("Seen at", required=True)
    time_known = time_known()
    note = Text("Note", 2000)
    in_visit = in_visit()


SIGHTING = Kind(
    "sighting", "Sighting", Sighting, writers={"crew", "lead"},
    rules=[
        {"rule": "any-of", "fields": ["species_id", "taxon"]},
        {"rule": "absent-when", "field": "count", "other": "found", "is": ["looked_for_none"]},
    ],
)  # fmt: skip
