"""
A field that a lead adds to a kind of reading at one site: a number with its unit and limits, or a choice.

It is retired, never renamed, so that values of years mean what they meant; it is no part of the fixed computations. Readings carry its
values in one list (`reading_fields.py`).
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Text, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed

READING_KINDS = {
    "stake_reading": "Stake reading", "table_reading": "Rod table reading", "horizon_reading": "Marker horizon reading", "level_run": "Level run",
    "rod_profile": "Two-rod profile", "cover_reading": "Marsh plot reading", "edge_reading": "Edge reading", "settlement_count": "Settlement count",
    "water_reading": "Water reading",
}  # fmt: skip


class OwnField(Record):
    reading_kind = Choice("Kind of reading", READING_KINDS, required=True, settled=True)
    label = Text("Name of the field", 60, required=True, settled=True)
    holds = Choice("Holds", {"number": "A number", "choice": "One of a few words"}, required=True, settled=True)
    unit = Text("Unit", 20, settled=True)
    least = Number("Least", least=-1e12, most=1e12)
    most = Number("Most", least=-1e12, most=1e12)
    words = Listed("Words", {"word": Text("Word", 120)}, most=30)
    retired = YesNo("No longer asked")


OWN_FIELD = Kind(
    "own_field", "Own field", OwnField, writers={"lead"},
    rules=[{"rule": "needed-when", "field": "words", "other": "holds", "is": ["choice"]}],
)  # fmt: skip
