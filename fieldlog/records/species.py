"""A species, or a wider group, that the programme looks for."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Text
from fieldlog.records.kind import Kind, Record

RANKS = {
    "species": "Species", "genus": "Genus", "family": "Family", "order": "Order", "class": "Class",
    "phylum": "Phylum",
    "kingdom": "Kingdom",
}  # fmt: skip
GROUPS = {
    "invertebrate": "Invertebrate", "fish": "Fish", "bird": "Bird", "plant": "Plant", "alga": "Alga",
    "mammal": "Mammal",
    "other": "Other",
}  # fmt: skip


class Species(Record):
    scientific_name = Text("Scientific name", 120, required=True)
    common_name = Text("Common name", 120)
    taxon_rank = Choice("Rank", RANKS)
    taxon_id = Text("Taxon id (for example WoRMS)", 120)
    group = Choice("Group", GROUPS)


SPECIES = Kind("species", "Species", Species, writers={"lead"}, site_bound=False, plural="species")
